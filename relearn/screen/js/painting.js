// What is painted under and over the lines of one chart: bands, spans, events. `see` is what all charts show alike.

const NAMES = ["ink", "ink-soft", "grid", "paper", "line-0", "line-1", "band", "band-edge", "span", "span-edge",
  "judged", "focus", "focus-edge", "mark"];
const TEXT_PX = 14;

// The page's colours as they are now, light or dark.
export function colours(element) {
  const style = getComputedStyle(element);
  return Object.fromEntries(NAMES.map((name) => [name, style.getPropertyValue("--" + name).trim()]));
}

function inside(u, paint) {
  const c = u.ctx, { left, top, width, height } = u.bbox;
  c.save();
  c.beginPath();
  c.rect(left, top, width, height);
  c.clip();
  c.setLineDash([]);
  c.textAlign = "left";
  c.textBaseline = "alphabetic";
  paint(c, { left, top, width, height, right: left + width, bottom: top + height });
  c.restore();
}

function stretch(u, from, to) {
  const x = u.valToPos(from, "x", true);
  return [x, Math.max(u.valToPos(to, "x", true) - x, 2)];
}

function line(c, x0, y0, x1, y1) {
  c.beginPath();
  c.moveTo(x0, y0);
  c.lineTo(x1, y1);
  c.stroke();
}

export function under(u, see, limits) {
  inside(u, (c, box) => {
    for (const span of see.spans) if (span.kind === "ready") ready(u, c, box, see.colours, span);
    if (see.focused) focus(u, c, box, see.colours, see.focused);
    if (limits) band(u, c, box, see.colours, limits);
  });
}

function ready(u, c, box, colour, span) {
  const [x, width] = stretch(u, span.from, span.to);
  c.fillStyle = colour.span;
  c.fillRect(x, box.top, width, box.height);
  c.strokeStyle = colour["span-edge"];
  c.lineWidth = devicePixelRatio;
  line(c, x, box.top, x, box.bottom);
  line(c, x + width, box.top, x + width, box.bottom);
}

function focus(u, c, box, colour, [from, to]) {
  const [x, width] = stretch(u, from, to);
  c.fillStyle = colour.focus;
  c.fillRect(x, box.top, width, box.height);
  c.strokeStyle = colour["focus-edge"];
  c.lineWidth = 2 * devicePixelRatio;
  line(c, x, box.top, x, box.bottom);
  line(c, x + width, box.top, x + width, box.bottom);
}

function band(u, c, box, colour, [low, high]) {
  const top = high === null ? box.top : u.valToPos(high, "y", true);
  const bottom = low === null ? box.bottom : u.valToPos(low, "y", true);
  c.fillStyle = colour.band;
  c.fillRect(box.left, top, box.width, bottom - top);
  c.strokeStyle = colour["band-edge"];
  c.lineWidth = devicePixelRatio;
  c.setLineDash([2 * devicePixelRatio, 5 * devicePixelRatio]);
  if (low !== null) line(c, box.left, bottom, box.right, bottom);
  if (high !== null) line(c, box.left, top, box.right, top);
}

export function over(u, see, words) {
  inside(u, (c, box) => {
    for (const span of see.spans) if (span.kind === "judged") judged(u, c, box, see.colours, span);
    marks(u, c, box, see, words);
    if (words && see.focused) said(c, see.colours, see.said, stretch(u, ...see.focused)[0], box.bottom - 5 * devicePixelRatio, box);
  });
}

// A bracket along the foot of the chart.
function judged(u, c, box, colour, span) {
  const [x, width] = stretch(u, span.from, span.to), high = 7 * devicePixelRatio, foot = box.bottom - devicePixelRatio;
  c.strokeStyle = colour.judged;
  c.lineWidth = 2 * devicePixelRatio;
  c.beginPath();
  c.moveTo(x, foot - high);
  c.lineTo(x, foot);
  c.lineTo(x + width, foot);
  c.lineTo(x + width, foot - high);
  c.stroke();
}

function marks(u, c, box, see, words) {
  let free = -Infinity;
  c.font = TEXT_PX * devicePixelRatio + "px system-ui";
  for (const mark of see.marks) {
    const x = u.valToPos(mark.at, "x", true);
    if (x < box.left || x > box.right) continue;
    c.strokeStyle = see.colours.mark;
    c.lineWidth = devicePixelRatio;
    c.setLineDash([6 * devicePixelRatio, 3 * devicePixelRatio]);
    line(c, x, box.top, x, box.bottom);
    c.setLineDash([]);
    if (words && x > free) free = said(c, see.colours, mark.text, x, box.top + TEXT_PX * devicePixelRatio, box);
  }
}

// A word at a place, with the paper's colour round it; returns where the next one may begin.
function said(c, colour, text, x, y, box) {
  c.font = TEXT_PX * devicePixelRatio + "px system-ui";
  const width = c.measureText(text).width, at = Math.max(Math.min(x + 4 * devicePixelRatio, box.right - width), box.left + 2);
  c.setLineDash([]);
  c.lineWidth = 4 * devicePixelRatio;
  c.strokeStyle = colour.paper;
  c.strokeText(text, at, y);
  c.fillStyle = colour.ink;
  c.fillText(text, at, y);
  return at + width + 8 * devicePixelRatio;
}
