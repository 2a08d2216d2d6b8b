"""The sound of an alarm, made here: three short notes, as a WAV file in memory."""

import io
import wave
from functools import cache

import numpy as np

RATE_HZ = 8000
NOTE_HZ, NOTE_SECONDS, REST_SECONDS, PAUSE_SECONDS = 880.0, 0.18, 0.12, 1.2


@cache
def alarm_sound() -> bytes:
    """Three notes and a pause, mono, 16 bit."""
    time = np.arange(int(RATE_HZ * NOTE_SECONDS)) / RATE_HZ
    # Faded at both ends: a note that is cut clicks.
    fade = np.minimum(1.0, np.minimum(time, time[::-1]) / 0.01)
    note = 0.6 * fade * np.sin(2 * np.pi * NOTE_HZ * time)
    rest, pause = np.zeros(int(RATE_HZ * REST_SECONDS)), np.zeros(int(RATE_HZ * PAUSE_SECONDS))
    samples = np.concatenate([note, rest, note, rest, note, pause])
    file = io.BytesIO()
    with wave.open(file, "wb") as sound:
        sound.setnchannels(1)
        sound.setsampwidth(2)
        sound.setframerate(RATE_HZ)
        sound.writeframes((samples * 32767).astype("<i2").tobytes())
    return file.getvalue()
