// Charts with one time axis: each strip is a uPlot; what is drawn and where the limits are comes from the server.
import uPlot from "relearn-uplot";

const NAME_PX = 168;
const AXIS_PX = 52;

function decode(text, kind) {
  const bytes = Uint8Array.from(atob(text), (letter) => letter.charCodeAt(0));
  return new kind(bytes.buffer);
}

function shown(value) {
  if (value === undefined || value === null) return "–";
  const size = Math.abs(value);
  return value.toFixed(size >= 100 ? 0 : size >= 10 ? 1 : 2);
}

export default {
  template: `<div class="strips" tabindex="0" @keydown="key" aria-label="charts"><div class="strip" v-for="(strip, i) in charts" :key="i" :style="{ height: heights[i] + 'px' }">
      <div class="name"><div class="title">{{ strip.title }}</div>
        <div class="value" v-for="(one, k) in strip.series" :key="k"><span class="stroke" :class="'s' + k"></span>
          <span class="number">{{ read[i] ? read[i][k] : "–" }}</span> <span class="unit">{{ strip.unit }}</span>
          <div class="of" v-if="strip.series.length > 1" :title="one">{{ one }}</div></div></div>
      <div class="plot" ref="plots"></div></div></div>`,
  props: { charts: Array, span: Number },
  data() {
    return { read: this.charts.map(() => []), heights: this.charts.map(() => 80) };
  },
  mounted() {
    this.rows = this.charts.map((chart) => [[], ...chart.series.map(() => [])]);
    this.marks = [];
    this.spans = [];
    this.focused = null;
    this.limits = this.charts.map((chart) => chart.limits);
    this.position = 0;
    this.following = true;
    this.width = this.span;
    this.view = [-this.span, 0];
    this.plots = [];
    this.resized = new ResizeObserver(() => this.resize());
    this.resized.observe(this.$el);
    this.build();
  },
  beforeUnmount() {
    this.resized.disconnect();
    this.plots.forEach((plot) => plot.destroy());
  },
  methods: {
    // Called by the server -------------------------------------------------------------------------------------
    append(batch) {
      for (const [place, part] of Object.entries(batch.strips)) {
        const rows = this.rows[place];
        if (part.from < rows[0].length) rows.forEach((column) => column.splice(part.from));
        const time = decode(part.time, Float64Array);
        for (let n = 0; n < time.length; n++) rows[0].push(time[n]);
        part.values.forEach((text, k) => {
          const values = decode(text, Float32Array);
          for (const value of values) this.put(rows[k + 1], value);
        });
        this.plots[place].setData(rows, false);
      }
      this.position = batch.position;
      this.arrived = batch.sent;
      if (this.following) this.view = [this.position - this.width, this.position];
      this.draw();
    },
    put(column, value) {
      if (value === Infinity) for (let n = column.length - 1; n >= 0 && column[n] === undefined; n--) column[n] = null;
      column.push(Number.isNaN(value) ? undefined : value === Infinity ? null : value);
    },
    told(marks, spans, limits) {
      [this.marks, this.spans, this.limits] = [marks, spans, limits];
      this.draw();
    },
    focus(from, to) {
      const room = Math.max((to - from) * 0.35, 2);
      this.focused = [from, to];
      this.following = false;
      this.view = [from - room, to + room];
      this.$emit("following", false);
      this.draw();
    },
    follow() {
      this.focused = null;
      this.following = true;
      this.width = this.span;
      this.view = [this.position - this.width, this.position];
      this.$emit("following", true);
      this.draw();
    },
    everything() {
      this.look(Math.min(...this.rows.map((rows) => (rows[0].length ? rows[0][0] : this.position))), this.position);
    },
    // Drawing --------------------------------------------------------------------------------------------------
    build() {
      const total = this.charts.reduce((sum, chart) => sum + chart.height, 0);
      this.share = this.charts.map((chart) => chart.height / total);
      this.plots = this.charts.map((chart, place) => new uPlot(this.options(chart, place), this.rows[place], this.$refs.plots[place]));
      this.resize();
    },
    options(chart, place) {
      const last = place === this.charts.length - 1;
      return {
        width: 400,
        height: 80,
        legend: { show: false },
        pxAlign: 0,
        padding: [8, 14, 6, 0],
        cursor: { sync: { key: "strips", setSeries: false }, drag: { x: true, y: false, setScale: false }, y: false },
        select: { show: true },
        scales: { x: { time: false, range: () => this.view }, y: { range: (u, low, high) => this.range(place, low, high) } },
        axes: [
          { show: last, stroke: () => this.colour("--ink-soft"), grid: { stroke: () => this.colour("--grid"), width: 1 }, ticks: { show: false },
            size: last ? 28 : 0, values: (u, ticks) => ticks.map((tick) => this.clock(tick)), font: "14px system-ui" },
          { size: AXIS_PX, stroke: () => this.colour("--ink-soft"), grid: { stroke: () => this.colour("--grid"), width: 1 }, ticks: { show: false },
            space: 26, font: "14px system-ui" },
        ],
        series: [{}, ...chart.series.map((name, k) => ({ label: name, stroke: () => this.colour("--line-" + k), width: 2, dash: k ? [7, 4] : undefined,
          spanGaps: false, points: { show: (u, s, i0, i1) => i1 - i0 < 60, size: 4 } }))],
        hooks: {
          drawClear: [(u) => this.under(u, place)],
          draw: [(u) => this.over(u, place)],
          setCursor: [(u) => this.readAt(u, place)],
          setSelect: [(u) => this.selected(u)],
          ready: [(u) => u.over.addEventListener("wheel", (event) => this.wheel(event, u), { passive: false })],
        },
      };
    },
    colour(name) {
      return getComputedStyle(this.$el).getPropertyValue(name).trim();
    },
    clock(seconds) {
      const sign = seconds < 0 ? "-" : "";
      const whole = Math.abs(seconds);
      const minutes = Math.floor(whole / 60);
      const rest = whole - minutes * 60;
      return sign + minutes + ":" + (Number.isInteger(rest) ? String(rest).padStart(2, "0") : rest.toFixed(1).padStart(4, "0"));
    },
    range(place, low, high) {
      const limits = this.limits[place] || [null, null];
      const ends = [low, high, ...limits].filter((end) => end !== null && end !== undefined && Number.isFinite(end));
      if (!ends.length) return [0, 1];
      const least = Math.min(...ends), most = Math.max(...ends), room = Math.max((most - least) * 0.12, 0.5);
      return [least - room, most + room];
    },
    resize() {
      const box = this.$el.getBoundingClientRect();
      const width = Math.max(box.width - NAME_PX, 200), height = Math.max(box.height - 36, 200);
      this.plots.forEach((plot, place) => {
        const extra = place === this.plots.length - 1 ? 28 : 0;
        this.heights[place] = Math.floor(height * this.share[place]) + extra;
        plot.setSize({ width, height: this.heights[place] });
      });
    },
    draw() {
      if (this.waiting) return;
      this.waiting = requestAnimationFrame(() => {
        this.waiting = 0;
        this.plots.forEach((plot, place) => {
          plot.setScale("x", { min: this.view[0], max: this.view[1] });
          plot.redraw(false, true);
          this.readAt(plot, place);
        });
        if (this.arrived) this.$el.dataset.drawn = this.arrived;
      });
    },
    under(u, place) {
      const c = u.ctx, { left, top, width, height } = u.bbox, limits = this.limits[place];
      c.save();
      c.beginPath();
      c.rect(left, top, width, height);
      c.clip();
      for (const span of this.spans) {
        const from = u.valToPos(span.from, "x", true), to = u.valToPos(span.to, "x", true);
        c.fillStyle = this.colour("--span");
        c.fillRect(from, top, to - from, height);
      }
      if (this.focused) {
        const from = u.valToPos(this.focused[0], "x", true), to = u.valToPos(this.focused[1], "x", true);
        c.fillStyle = this.colour("--focus");
        c.fillRect(from, top, Math.max(to - from, 2), height);
      }
      if (limits) {
        const high = limits[1] === null ? top : u.valToPos(limits[1], "y", true);
        const low = limits[0] === null ? top + height : u.valToPos(limits[0], "y", true);
        c.fillStyle = this.colour("--band");
        c.fillRect(left, high, width, low - high);
        c.strokeStyle = this.colour("--band-edge");
        c.setLineDash([2, 5]);
        for (const [end, y] of [[limits[0], low], [limits[1], high]])
          if (end !== null) { c.beginPath(); c.moveTo(left, y); c.lineTo(left + width, y); c.stroke(); }
      }
      c.restore();
    },
    over(u, place) {
      const c = u.ctx, { left, top, width, height } = u.bbox, dpr = devicePixelRatio;
      c.save();
      c.font = 13 * dpr + "px system-ui";
      let free = -Infinity;
      for (const mark of this.marks) {
        const x = u.valToPos(mark.at, "x", true);
        if (x < left || x > left + width) continue;
        c.strokeStyle = this.colour("--mark");
        c.setLineDash([6 * dpr, 3 * dpr]);
        c.beginPath(); c.moveTo(x, top); c.lineTo(x, top + height); c.stroke();
        if (place === 0 && x > free) {
          const at = Math.min(x + 4 * dpr, left + width - c.measureText(mark.text).width);
          c.setLineDash([]);
          c.lineWidth = 4 * dpr;
          c.strokeStyle = this.colour("--paper");
          c.strokeText(mark.text, at, top + 13 * dpr);
          c.fillStyle = this.colour("--ink");
          c.fillText(mark.text, at, top + 13 * dpr);
          c.lineWidth = dpr;
          free = x + c.measureText(mark.text).width + 12 * dpr;
        }
      }
      c.restore();
    },
    readAt(u, place) {
      const rows = this.rows[place];
      const hovering = u.cursor.left >= 0 && u.cursor.left !== null && u.cursor.idx !== null;
      const at = hovering ? u.cursor.idx : this.before(rows[0], this.position);
      this.read[place] = rows.slice(1).map((column) => {
        for (let n = at; n >= 0 && n > at - 400; n--) if (column[n] !== undefined) return shown(column[n]);
        return "–";
      });
    },
    before(times, position) {
      let low = 0, high = times.length;
      while (low < high) { const middle = (low + high) >> 1; if (times[middle] <= position) low = middle + 1; else high = middle; }
      return low - 1;
    },
    // The person's hand ----------------------------------------------------------------------------------------
    selected(u) {
      if (u.select.width < 4) return;
      const from = u.posToVal(u.select.left, "x"), to = u.posToVal(u.select.left + u.select.width, "x");
      u.setSelect({ left: 0, width: 0, top: 0, height: 0 }, false);
      this.look(from, to);
    },
    wheel(event, u) {
      event.preventDefault();
      const [from, to] = this.view, width = to - from;
      if (event.shiftKey || Math.abs(event.deltaX) > Math.abs(event.deltaY)) {
        const step = (width * (event.deltaX || event.deltaY)) / 1000;
        return this.look(from + step, to + step);
      }
      const factor = event.deltaY > 0 ? 1.2 : 1 / 1.2, at = this.following ? to : u.posToVal(u.cursor.left, "x");
      if (this.following) { this.width = Math.min(Math.max(this.width * factor, 2), 86400); this.view = [to - this.width, to]; return this.draw(); }
      this.look(at - (at - from) * factor, at + (to - at) * factor);
    },
    key(event) {
      const [from, to] = this.view, width = to - from;
      const moves = { ArrowLeft: [from - width / 5, to - width / 5], ArrowRight: [from + width / 5, to + width / 5],
        "+": [from + width / 8, to - width / 8], "-": [from - width / 6, to + width / 6] };
      if (event.key === "Home") this.everything();
      else if (event.key === "End") this.follow();
      else if (moves[event.key]) this.look(...moves[event.key]);
      else return;
      event.preventDefault();
    },
    look(from, to) {
      if (to - from < 0.5) return;
      this.following = false;
      this.view = [from, to];
      this.$emit("following", false);
      this.draw();
    },
  },
};
