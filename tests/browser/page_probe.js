// What a reader would see wrong on the page: text sizes, overlaps inside charts, sideways scroll.
() => {
  const shown = (e) => { const r = e.getBoundingClientRect(); return r.width > 0 && r.height > 0; };
  const texts = [];
  const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  while (walker.nextNode()) {
    const node = walker.currentNode, parent = node.parentElement;
    if (!node.textContent.trim() || parent.closest("script, style") || !shown(parent)) { continue; }
    texts.push([parseFloat(getComputedStyle(parent).fontSize), node.textContent.trim().slice(0, 40)]);
  }
  const charts = Array.from(document.querySelectorAll("figure.chart")).map((figure) => {
    const svg = figure.querySelector("svg");
    const name = figure.querySelector("figcaption").innerText;
    if (!svg) { return { name, marks: 0, overlaps: [], outside: [] }; }
    const frame = svg.getBoundingClientRect();
    const boxes = Array.from(svg.querySelectorAll("text"))
      .filter((t) => t.textContent.trim() && shown(t) && parseFloat(getComputedStyle(t).opacity) > 0)
      .map((t) => ({ words: t.textContent, box: t.getBoundingClientRect() }));
    const overlaps = [], slack = 2;
    for (let i = 0; i < boxes.length; i += 1) {
      for (let k = i + 1; k < boxes.length; k += 1) {
        const a = boxes[i].box, b = boxes[k].box;
        const wide = Math.min(a.right, b.right) - Math.max(a.left, b.left);
        const high = Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top);
        if (wide > slack && high > slack) { overlaps.push([boxes[i].words, boxes[k].words]); }
      }
    }
    const outside = boxes.filter(({ box }) => box.left < frame.left - 1 || box.right > frame.right + 1)
      .map(({ words }) => words);
    const marks = svg.querySelectorAll(".mark-line path, .mark-rect path, .mark-area path, .mark-symbol path").length;
    return { name, marks, overlaps, outside, width: frame.width };
  });
  return { texts, charts, page: document.documentElement.scrollWidth, view: window.innerWidth };
}
