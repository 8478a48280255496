// What is painted under and over the lines of one chart: bands, spans, events. `see` is what all charts show alike.

const NAMES = ["ink", "ink-soft", "grid", "paper", "line-0", "line-1", "band", "band-edge", "span-edge",
  "judged", "focus", "focus-edge", "mark"];
const TEXT_PX = 15, LINE_PX = 18, HEAD_PX = 8, BAR_PX = 6, BESIDE_PX = 4;

// The page's colours as they are now, light or dark.
export function colours(element) {
  const style = getComputedStyle(element);
  return Object.fromEntries(NAMES.map((name) => [name, style.getPropertyValue("--" + name).trim()]));
}

function inside(u, paint) {
  const c = u.ctx, { left, top, width, height } = u.bbox;
  c.save();
  c.beginPath();
  c.rect(left, top - HEAD_PX * devicePixelRatio, width, height + HEAD_PX * devicePixelRatio);
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

// decides: whether this chart is one of those on which to look.
export function under(u, see, limits, decides) {
  inside(u, (c, box) => {
    if (see.focused && decides) focus(u, c, box, see.colours, see.focused);
    if (limits) band(u, c, box, see.colours, limits);
  });
}

// A bar over the head of the chart, and its ends all the way down.
function ready(u, c, box, colour, span) {
  const [x, width] = stretch(u, span.from, span.to);
  c.fillStyle = c.strokeStyle = colour["span-edge"];
  c.fillRect(x, box.top - (HEAD_PX - 1) * devicePixelRatio, width, BAR_PX * devicePixelRatio);
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

// words: whether the marks are named here; told: whether it is said here what the focused stretch is.
export function over(u, see, words, told) {
  inside(u, (c, box) => {
    for (const span of see.spans) (span.kind === "judged" ? judged : ready)(u, c, box, see.colours, span);
    marks(u, c, box, see, words);
    if (told && see.focused) decided(u, c, box, see);
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
  const seen = see.marks.map((mark) => ({ ...mark, x: u.valToPos(mark.at, "x", true) }))
    .filter(({ x }) => x >= box.left && x <= box.right);
  c.strokeStyle = see.colours.mark;
  c.lineWidth = devicePixelRatio;
  c.setLineDash([6 * devicePixelRatio, 3 * devicePixelRatio]);
  for (const { x } of seen) line(c, x, box.top, x, box.bottom);
  c.setLineDash([]);
  if (words) named(c, box, see.colours, seen);
}

// Each mark's word beside its line where there is room, in two rows; those that come first choose first.
function named(c, box, colour, seen) {
  const taken = [[], []], gap = BESIDE_PX * devicePixelRatio;
  for (const { text, x } of [...seen].sort((one, other) => other.first - one.first)) {
    const width = measured(c, text);
    const free = taken.flatMap((row, n) => [x + gap, x - gap - width].map((at) => ({ row, n, from: at, to: at + width })))
      .find(({ row, from, to }) => from >= box.left && to <= box.right && row.every((one) => to + gap < one.from || from - gap > one.to));
    if (!free) continue;
    free.row.push(free);
    written(c, colour, text, free.from, box.top + (free.n + 1) * LINE_PX * devicePixelRatio - gap);
  }
}

function decided(u, c, box, see) {
  const width = measured(c, see.said), x = stretch(u, ...see.focused)[0] + BESIDE_PX * devicePixelRatio;
  written(c, see.colours, see.said, Math.max(Math.min(x, box.right - width), box.left + 2), box.bottom - 10 * devicePixelRatio);
}

function measured(c, text) {
  c.font = "600 " + TEXT_PX * devicePixelRatio + "px system-ui";
  return c.measureText(text).width;
}

// Words with the paper's colour round them.
function written(c, colour, text, x, y) {
  c.lineWidth = 4 * devicePixelRatio;
  c.strokeStyle = colour.paper;
  c.strokeText(text, x, y);
  c.fillStyle = colour.ink;
  c.fillText(text, x, y);
}
