"""A phone's page leaves for the lock screen once it is locked, so that nothing of a client stays in view."""

import streamlit as st

from estimator.pages.showing import put

# Asking for the state keeps nothing awake. A screen that was dark, or a phone that was away, asks at once.
_WATCH = """
export default function () {
  if (window.tressmeterWatch) return;
  const ask = async () => {
    const answer = await fetch("/unlock/state", { cache: "no-store" }).catch(() => null);
    if (answer && answer.status === 403) {
      location.assign("/unlock?next=" + encodeURIComponent(location.pathname + location.search));
    }
  };
  window.tressmeterWatch = setInterval(ask, 15000);
  document.addEventListener("visibilitychange", () => document.hidden || ask());
}
"""
_watch = st.components.v2.component("tressmeter_lock_watch", html="<span hidden></span>", js=_WATCH)


def show() -> None:
    """The way to lock this phone, and the watch that leaves once it is locked."""
    put('<a class="lock" href="/lock" target="_self">Lock</a>')
    with st.container(key="lock_watch"):
        _watch(key="lock_watch_component")
