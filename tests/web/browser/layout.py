"""What does not fit on a page as it is laid out: wider than the screen, one thing over another, or cut off."""

FAULTS = """() => {
  const faults = [];
  const root = document.documentElement;
  if (root.scrollWidth > root.clientWidth) faults.push(["wider", root.scrollWidth, root.clientWidth]);
  const within = (e, holds) => { for (; e; e = e.parentElement) if (holds(getComputedStyle(e))) return true; };
  const stays = (e) => within(e, ({ position }) => ["fixed", "sticky"].includes(position));
  const scrolls = (e) => within(e, ({ overflowX }) => ["auto", "scroll"].includes(overflowX));
  const hides = (e) => getComputedStyle(e).overflowX !== "visible";
  const seen = (r, e) => {  // what is left of a text where something around it hides the rest
    let { left, right, top, bottom } = r;
    for (; e; e = e.parentElement) {
      if (!hides(e)) continue;
      const box = e.getBoundingClientRect();
      left = Math.max(left, box.left); right = Math.min(right, box.right);
      top = Math.max(top, box.top); bottom = Math.min(bottom, box.bottom);
    }
    return right - left > 1 && bottom - top > 1 ? { left, right, top, bottom, width: right - left } : null;
  };
  const cut = (text) => String(text).trim().slice(0, 30);
  const name = (e) => `${e.localName} ${cut(e.id || e.className)} ${cut(e.textContent)}`;
  const control = (e) => e.matches("button, input:not([type=hidden]), select, textarea");
  const words = (e) => [...e.childNodes].filter((n) => n.nodeType === 3 && n.data.trim());
  const texts = [...document.body.querySelectorAll("*")].filter((e) =>
    (control(e) || words(e).length)
    && !e.matches("option, script, style, .unseen, .skip, .unseen *") && !e.closest("svg, dialog:not([open])")
    && e.checkVisibility({ visibilityProperty: true, opacityProperty: true }));
  const boxes = texts.map((e) => {
    const own = words(e).flatMap((n) => {
      const range = document.createRange();
      range.selectNodeContents(n);
      return [...range.getClientRects()];
    });
    const rects = control(e) ? [e.getBoundingClientRect()] : own.map((r) => seen(r, e)).filter(Boolean);
    return { e, rects, stays: stays(e) };
  });
  for (const { e, rects } of boxes) {
    for (const { left, right, width } of rects) {
      if (width < 2 || scrolls(e) || (left > -1 && right < root.clientWidth + 1)) continue;
      faults.push(["outside", name(e)]);
      break;
    }
  }
  for (let i = 0; i < boxes.length; i++) {
    for (let k = i + 1; k < boxes.length; k++) {
      const a = boxes[i], b = boxes[k];
      if (a.stays || b.stays || a.e.contains(b.e) || b.e.contains(a.e)) continue;
      const over = a.rects.some((p) => b.rects.some((q) => Math.min(p.right, q.right) - Math.max(p.left, q.left) > 2
        && Math.min(p.bottom, q.bottom) - Math.max(p.top, q.top) > 4));
      if (over) faults.push(["over", name(a.e), name(b.e)]);
    }
  }
  for (const e of document.body.querySelectorAll("*")) {
    const style = getComputedStyle(e);
    if (e.matches(".unseen, svg, svg *, select, input, video, canvas") || !e.checkVisibility()) continue;
    const off = ["hidden", "clip"];
    const wide = off.includes(style.overflowX) && e.scrollWidth > e.clientWidth + 1 && e.clientWidth > 1;
    const high = off.includes(style.overflowY) && e.scrollHeight > e.clientHeight + 3 && e.clientHeight > 1;
    if (style.textOverflow === "ellipsis" && !high) continue;  // shortened on purpose, and seen to be
    if (wide || high) faults.push(["cut", name(e), e.scrollWidth, e.clientWidth, e.scrollHeight, e.clientHeight]);
  }
  return faults;
}"""
"""Run in the page: each fault as [what, …]. Bars that stay in place may lie over what scrolls below them."""
SIZES = ((360, 740), (360, 440), (740, 360), (768, 1024), (1280, 800))
"""Upright, with the keyboard up (a phone's page is made that much lower), lying, a tablet, a desk."""
