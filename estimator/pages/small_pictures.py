"""Small pictures of kept photographs, in the page itself: no address serves them, so none can be guessed."""

import base64

import streamlit as st

from estimator.pages.escaping import in_html


def show(pictures: tuple[tuple[str, bytes], ...]) -> None:
    """Pictures side by side, each with its side in words. pictures : Side and JPEG of each."""
    if pictures:
        st.html(f'<div class="smalls">{"".join(map(_picture, pictures))}</div>')


def _picture(picture: tuple[str, bytes]) -> str:
    side, jpeg = picture
    address = f"data:image/jpeg;base64,{base64.b64encode(jpeg).decode('ascii')}"
    return f'<figure><img src="{address}" alt="Hair {in_html(side)}"><figcaption>{in_html(side)}</figcaption></figure>'
