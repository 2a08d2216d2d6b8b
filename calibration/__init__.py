"""From the bytes of a photograph to colour that can be trusted. Knows light and cards, nothing of hair.

The door is `calibration.pipeline.correct_photo`; the values it hands out live in `photo`, `corrected` and `findings`.
"""
