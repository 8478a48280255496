// Charts with one time axis: each strip is a uPlot; what is drawn and where the limits are comes from the server.
import uPlot from "relearn-uplot";
import { append, clock, colours, figure, label, over, sample, under } from "relearn-strips";

const AXIS_PX = 52, TIMES_PX = 26, LEAST_S = 0.5, MOST_S = 86400, FIRST_S = 20;
const TICKS_S = [0.1, 0.2, 0.5, 1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200, 14400, 28800];
const FONT = "15px system-ui";

const CUT_OFF_MS = 1500; // ten times as long as the server ever takes between two batches

export default {
  template: `<div class="strips" :class="{ hovering: hovered !== null }" tabindex="0" role="group" @keydown="key" @touchstart.passive="touch" @touchmove.passive="touch" @touchend.passive="touch" aria-label="charts; arrows move, plus and minus zoom">
    <div class="away" ref="away" role="status" v-if="away"><span>{{ away }}</span>
      <button class="key" type="button" @click="follow" @keydown.stop>Follow the newest</button></div>
    <div class="strip" v-for="(strip, i) in charts" :key="i" :style="{ height: heights[i] + 'px' }">
      <div class="name"><div class="title">{{ strip.title }} <span class="limits" v-if="legends[i]">{{ legends[i] }}</span></div>
        <div class="reading" v-for="(one, k) in strip.series" :key="k" :class="{ old: read[i][k].old }"><span class="stroke" :class="'s' + k"></span>
          <span class="number">{{ read[i][k].text }}</span> <span class="unit">{{ strip.unit }}</span>
          <span class="of" v-if="strip.series.length > 1">{{ one }}</span> <span class="then" v-if="hovered !== null">at {{ hovered }}</span>
          <span class="age">{{ read[i][k].age }}</span></div></div>
      <div class="plot" ref="plots"></div></div></div>`,
  props: { charts: Array, span: Number },
  data() {
    const none = { text: "–", old: false, age: "" };
    return { read: this.charts.map((chart) => chart.series.map(() => none)), heights: this.charts.map(() => 80),
      legends: this.charts.map(() => ""), hovered: null, away: "" };
  },
  mounted() {
    this.rows = this.charts.map((chart) => [[], ...chart.series.map(() => [])]);
    this.limits = this.charts.map(() => null);
    this.fresh = this.plausible = this.charts.map((chart) => chart.series.map(() => null));
    this.scaled = this.charts.map(() => false);
    this.see = { marks: [], spans: [], focused: null, places: [], colours: colours(this.$el) };
    this.position = this.now = 0;
    this.came = Date.now();
    this.watch = setInterval(() => document.body.classList.toggle("cut-off", Date.now() - this.came > CUT_OFF_MS), 250);
    this.lost = false;
    this.following = true;
    this.width = this.span;
    this.view = [0, FIRST_S];
    this.resized = new ResizeObserver(() => this.resize());
    this.relit = new MutationObserver(() => this.relight());
    this.build();
    this.resized.observe(this.$el);
    this.relit.observe(document.body, { attributes: true, attributeFilter: ["class"] });
  },
  beforeUnmount() {
    clearInterval(this.watch);
    document.body.classList.remove("cut-off");
    this.resized.disconnect();
    this.relit.disconnect();
    cancelAnimationFrame(this.waiting);
    this.plots.forEach((plot) => plot.destroy());
  },
  methods: {
    // Called by the server -------------------------------------------------------------------------------------
    alive() {
      this.came = Date.now();
    },
    append(batch) {
      this.came = Date.now();
      for (const [place, part] of Object.entries(batch.strips)) {
        append(this.rows[place], part);
        this.plots[place].setData(this.rows[place], false);
        if (!this.following && part.begun <= this.view[1]) this.stale[place] = true;
      }
      [this.position, this.lost, this.arrived] = [batch.position, batch.lost, batch.sent];
      if (this.following) this.view = this.newest();
      this.draw();
    },
    tell(told) {
      Object.assign(this.see, { marks: told.marks, spans: told.spans });
      [this.limits, this.legends, this.fresh, this.plausible] = [told.limits, told.legends, told.fresh, told.plausible];
      this.stale.fill(true);
      this.draw();
    },
    focus(from, to, places) {
      const room = Math.max((to - from) * 0.35, 2);
      [this.see.focused, this.see.places] = [[from, to], places];
      this.see.said = "decided, as of " + clock(this.position);
      this.$el.dataset.focus = from + " " + to;
      this.$el.dataset.decides = places.map((place) => this.charts[place].title).join(", ");
      this.stale.fill(true);
      this.look(from - room, to + room);
    },
    follow() {
      this.see.focused = null;
      delete this.$el.dataset.focus;
      delete this.$el.dataset.decides;
      this.stale.fill(true);
      this.following = true;
      this.width = this.span;
      this.view = this.newest();
      this.draw();
    },
    // In steps of half a pixel: an hour on the screen need not be drawn again before it looks different.
    newest() {
      const step = this.width / (2 * Math.max(this.plots[0].bbox.width, 100));
      const now = Math.ceil(this.position / step) * step;
      if (now !== this.now) this.stale.fill(true);
      this.now = now;
      return [Math.max(now - this.width, 0), Math.max(now, Math.min(this.width, FIRST_S))];
    },
    everything() {
      const begun = Math.min(...this.rows.map((rows) => (rows[0].length ? rows[0][0] : this.position)));
      this.look(begun, Math.max(this.position, begun + LEAST_S));
    },
    // Drawing --------------------------------------------------------------------------------------------------
    build() {
      const total = this.charts.reduce((sum, chart) => sum + chart.height, 0);
      this.share = this.charts.map((chart) => chart.height / total);
      this.stale = this.charts.map(() => true);
      this.plots = this.charts.map((chart, place) => new uPlot(this.options(chart, place), this.rows[place], this.$refs.plots[place]));
      this.resize();
    },
    options(chart, place) {
      const last = place === this.charts.length - 1;
      const axis = { stroke: () => this.see.colours["ink-soft"], grid: { stroke: () => this.see.colours.grid, width: 1 }, ticks: { show: false }, font: FONT };
      return {
        width: 400, height: 80, pxAlign: 0, padding: [8, 24, 6, 0],
        legend: { show: false }, select: { show: true },
        cursor: { sync: { key: "strips", setSeries: false }, drag: { x: true, y: false, setScale: false }, y: false },
        scales: { x: { time: false, range: () => this.view }, y: { range: (u, low, high) => this.range(place, low, high) } },
        axes: [
          { ...axis, show: last, size: last ? TIMES_PX : 0, space: 90, incrs: TICKS_S, values: (u, ticks) => ticks.map(clock) },
          { ...axis, size: AXIS_PX, space: 26, values: (u, ticks) => ticks.map((tick) => (this.scaled[place] ? label(tick) : "")) },
        ],
        series: [{}, ...chart.series.map((name, k) => ({ label: name, stroke: () => this.see.colours["line-" + k], width: 2,
          dash: k ? [7, 4] : undefined, spanGaps: false, points: { show: (u, s, i0, i1) => i1 - i0 < 60, size: 4 } }))],
        hooks: {
          drawClear: [(u) => under(u, this.see, this.limits[place], this.see.places.includes(place))],
          draw: [(u) => over(u, this.see, place === 0, place === this.see.places[0])],
          setCursor: [() => this.reading()],
          setSelect: [(u) => this.selected(u)],
          ready: [(u) => u.over.addEventListener("wheel", (event) => this.wheel(event, u), { passive: false })],
        },
      };
    },
    range(place, low, high) {
      const ends = [low, high, ...(this.limits[place] || [])].filter((end) => end !== null && end !== undefined && Number.isFinite(end));
      this.scaled[place] = ends.length > 0; // of nothing no number may stand at the axis
      if (!ends.length) return [0, 1];
      const least = Math.min(...ends), most = Math.max(...ends);
      const room = Math.max((most - least) * 0.12, (this.charts[place].least - (most - least)) / 2);
      const foot = least < 0 ? least - room : Math.max(least - room, -0.12 * (most - least + 2 * room)); // little below zero
      return [foot, Math.max(most + room, foot + this.charts[place].least)];
    },
    resize() {
      const plot = this.$refs.plots[0].getBoundingClientRect(), box = this.$el.getBoundingClientRect();
      const width = Math.max(plot.width, 120), sign = this.$refs.away?.offsetHeight ?? 0;
      const height = Math.max(box.height - sign - TIMES_PX - 6, 200);
      this.plots.forEach((one, place) => {
        this.heights[place] = Math.floor(height * this.share[place]) + (place === this.plots.length - 1 ? TIMES_PX : 0);
        one.setSize({ width, height: this.heights[place] });
      });
    },
    relight() {
      const dark = document.body.classList.contains("body--dark");
      if (dark === this.dark) return;
      this.dark = dark;
      this.see.colours = colours(this.$el);
      this.stale.fill(true);
      this.draw();
    },
    draw() {
      if (!this.waiting) this.waiting = requestAnimationFrame(() => this.frame());
    },
    frame() {
      this.waiting = 0;
      this.plots.forEach((plot, place) => {
        const { min, max } = plot.scales.x, moved = min !== this.view[0] || max !== this.view[1];
        if (moved) plot.setScale("x", { min: this.view[0], max: this.view[1] });
        else if (this.stale[place]) plot.redraw(true, true);
        this.stale[place] = false;
      });
      this.reading();
      this.signed();
      if (this.arrived) this.$el.dataset.drawn = this.arrived;
    },
    // Where the view stands still, so that nobody takes it for now.
    signed() {
      const seen = this.view.map((at) => clock(Math.min(Math.max(at, 0), this.position)));
      const away = this.following ? "" : "showing " + seen.join("–") + ", not following";
      if (away === this.away) return;
      const other = !away !== !this.away;
      this.away = away;
      if (other) this.$nextTick(() => this.resize());
    },
    // Reading --------------------------------------------------------------------------------------------------
    // At the moment the pointer is on, in all strips; else now, where a value that is too old is told as old.
    reading() {
      const u = this.plots?.find((plot) => plot.cursor.left >= 0 && plot.cursor.left !== null);
      const at = u ? Math.min(u.posToVal(u.cursor.left, "x"), this.position) : this.position;
      this.hovered = u ? clock(at) : null;
      this.charts.forEach((chart, i) => chart.series.forEach((name, k) => this.say(i, k, at, !u && this.lost)));
    },
    say(i, k, at, lost) {
      const found = sample(this.rows[i], k, at), why = found ? this.wrong(i, k, found, at - found.at, lost) : "";
      const said = { text: found ? figure(found.value) : "–", old: why !== "", age: why }, now = this.read[i][k];
      if (said.text !== now.text || said.age !== now.age) this.read[i][k] = said;
    },
    // Why a value is not the current one, "" where it is.
    wrong(i, k, found, age, lost) {
      const [low, high] = this.plausible[i][k] ?? [null, null], fresh = this.fresh[i][k];
      if ((low !== null && found.value < low) || (high !== null && found.value > high)) return "no measurement";
      return lost || (fresh !== null && age > fresh) ? Math.round(age) + " s old" : "";
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
      this.zoom(event.deltaY > 0 ? 1.2 : 1 / 1.2, u.posToVal(u.cursor.left, "x"));
    },
    // While the view goes along with the newest sample it keeps doing so, only wider or narrower.
    zoom(factor, at) {
      const [from, to] = this.view, width = Math.min(Math.max((to - from) * factor, LEAST_S), MOST_S);
      if (!this.following) return this.look(at - ((at - from) * width) / (to - from), at + ((to - at) * width) / (to - from));
      this.width = width;
      this.view = this.newest();
      this.draw();
    },
    // One finger pans, two zoom; up and down stays with the page.
    touch(event) {
      const now = [...event.touches].map((one) => one.clientX), was = this.fingers, box = this.plots[0].over.getBoundingClientRect();
      this.fingers = now;
      if (event.type !== "touchmove" || !was || was.length !== now.length) return;
      const [from, to] = this.view, perPx = (to - from) / Math.max(box.width, 1);
      if (now.length === 1) return now[0] === was[0] ? undefined : this.look(from - (now[0] - was[0]) * perPx, to - (now[0] - was[0]) * perPx);
      const wide = Math.abs(now[0] - now[1]), before = Math.abs(was[0] - was[1]);
      if (wide > 20 && before > 20) this.zoom(before / wide, from + ((now[0] + now[1]) / 2 - box.left) * perPx);
    },
    key(event) {
      const [from, to] = this.view, width = to - from, middle = (from + to) / 2;
      const acts = {
        ArrowLeft: () => this.look(from - width / 5, to - width / 5),
        ArrowRight: () => this.look(from + width / 5, to + width / 5),
        "+": () => this.zoom(1 / 1.4, middle), "=": () => this.zoom(1 / 1.4, middle), "-": () => this.zoom(1.4, middle),
        Home: () => this.everything(), End: () => this.follow(),
      };
      if (!acts[event.key] || event.ctrlKey || event.metaKey || event.altKey) return;
      event.preventDefault();
      acts[event.key]();
    },
    look(from, to) {
      if (to - from < LEAST_S * 0.9 || to - from > MOST_S * 1.1) return;
      this.following = false;
      this.view = [from, to];
      this.draw();
    },
  },
};
