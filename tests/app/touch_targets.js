// Every place that can be touched, in CSS pixels, also inside components; nested ones count as their outermost.
() => {
  const TOUCHED = "button, a[href], summary, input:not([type=file]):not([type=hidden]), textarea, select, [role=radio], [role=checkbox]";
  const boxes = [];
  const shown = (element) => {
    const box = element.getBoundingClientRect();
    const style = getComputedStyle(element);
    const drawn = style.visibility !== "hidden" && style.opacity !== "0";
    // A link for the keyboard only, one pixel large until it has the focus, is nothing to touch.
    return drawn && box.width > 1 && box.height > 1 && element.checkVisibility();
  };
  const walk = (root) => {
    for (const element of root.querySelectorAll("*")) {
      if (element.shadowRoot) walk(element.shadowRoot);
      if (!element.matches(TOUCHED) || !shown(element) || element.parentElement?.closest(TOUCHED)) continue;
      const box = element.getBoundingClientRect();
      const says = (element.getAttribute("aria-label") || element.innerText || element.tagName).trim();
      const stuck = Boolean(element.closest(".st-key-action, .st-key-bar"));
      boxes.push({ says, stuck, left: box.left, top: box.top, right: box.right, bottom: box.bottom });
    }
  };
  walk(document);
  return boxes;
};
