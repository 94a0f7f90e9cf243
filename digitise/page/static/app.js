// The drawing board: what is on it, what is chosen, and the loop that paints it.

import { Refusal, post } from "./api.js";
import { Pen, curveOf, drawLines } from "./draw.js";
import { rings, same } from "./edits.js";
import { Loupe } from "./loupe.js";
import { Tiles } from "./tiles.js";
import { View } from "./view.js";

const byId = (id) => document.getElementById(id);

export class App {
  constructor(hooks) {
    this.hooks = hooks;
    this.view = new View();
    this.ring = 0;
    this.point = -1;
    this.doubt = -1;
    this.mark = null;
    this.snap = true;
    this.both = false;
    this.before = false;
    this.reach = 30;
    this.problems = [];
    this.sheets = new Map();
    this.photo = byId("photo");
    this.lines = byId("lines");
    this.board = byId("board");
    this.loupe = new Loupe(byId("loupe"), this);
    this.frames = [];
    new ResizeObserver(() => this.resized()).observe(this.board);
    matchMedia("(resolution: 1dppx)").addEventListener("change", () => this.resized());
  }

  get edit() { return this.shown ?? this.history?.edit ?? null; }

  /** Whether the automatic outline is looked at: then nothing is changed that can't be seen. */
  get isLooking() { return this.before || Boolean(this.isFlickering); }

  resized() {
    const { clientWidth, clientHeight } = this.board;
    if (!clientWidth || !clientHeight) return;
    const first = !this.ratio;
    this.ratio = window.devicePixelRatio || 1;
    for (const canvas of [this.photo, this.lines]) {
      canvas.width = Math.round(clientWidth * this.ratio);
      canvas.height = Math.round(clientHeight * this.ratio);
    }
    this.view.resize(clientWidth, clientHeight);
    if (first) this.fit();
    this.drawNow(true);
  }

  useSheet(sheet) {
    this.sheet = sheet;
    this.tiles = new Tiles(sheet, () => this.drawNow(true));
    // A pixel of the photo may fill some 40 pixels of the screen.
    this.view.most = 40 / sheet.mmPerPx;
  }

  addSheet(sheet, edit) { this.sheets.set(JSON.stringify(edit.card_px), sheet); }

  /** The sheet that belongs to the drawing as it stands; the program is asked where it is not known yet. */
  async followSheet() {
    const key = JSON.stringify(this.edit.card_px);
    if (!this.sheets.has(key)) this.sheets.set(key, await post("sheet", { edit: this.edit }));
    const sheet = this.sheets.get(key);
    if (sheet !== this.sheet) this.useSheet(sheet);
  }

  fit() {
    if (!this.sheet || !this.ratio) return;
    const { left, bottom, right, top } = this.sheet;
    if (!this.edit) {
      this.view.fit([left, bottom, right, top]);
      return;
    }
    const line = curveOf(this.edit.outer).line;
    let [x0, y0, x1, y1] = [Infinity, Infinity, -Infinity, -Infinity];
    for (const p of line) {
      x0 = Math.min(x0, p.x); x1 = Math.max(x1, p.x);
      y0 = Math.min(y0, p.y); y1 = Math.max(y1, p.y);
    }
    const box = [x0 - 18, y0 - 18, x1 + 18, y1 + 18], bar = this.board.querySelector(".zoom");
    this.view.fit(box);
    const [px, py] = this.view.toScreen(box[2], box[1]);
    // Where the zoom buttons would lie over the butt, it is shown above them.
    if (px > bar.offsetLeft && py > bar.offsetTop) this.view.fit(box, this.view.height - bar.offsetTop + 8);
  }

  drawNow(photoToo = false) {
    this.photoDue ||= photoToo;
    if (this.due) return;
    this.due = true;
    requestAnimationFrame(() => this.paint());
  }

  paint() {
    this.due = false;
    if (!this.ratio || !this.sheet) return;
    const began = performance.now();
    if (this.photoDue) {
      this.photoDue = false;
      const ctx = this.photo.getContext("2d", { alpha: false });
      ctx.fillStyle = "#494949";
      ctx.fillRect(0, 0, this.photo.width, this.photo.height);
      this.tiles.draw(ctx, this.view, this.ratio);
    }
    const ctx = this.lines.getContext("2d");
    ctx.clearRect(0, 0, this.lines.width, this.lines.height);
    drawLines(new Pen(ctx, this.view, this.ratio), this);
    const focus = this.tool?.isDragging ? this.tool.focus() ?? this.pointerSpot : null;
    if (focus && this.pointer) this.loupe.show(focus, this.pointer);
    else this.loupe.hide();
    if (this.tool?.isDragging) this.frames.push(performance.now() - began);
  }

  get pointerSpot() { return this.pointer ? [this.pointer.x, this.pointer.y] : null; }

  /** Show a drawing that is not a step yet: something is being dragged. */
  show(edit) {
    this.shown = edit;
    const spot = curveOf(rings(edit)[this.ring] ?? edit.outer).crossing();
    this.problems = spot ? [{ at: spot, words: "The line crosses itself." }] : [];
    this.drawNow();
  }

  /** Make a drawing the next step, and ask what it means. */
  commit(edit) {
    this.shown = null;
    if (same(edit, this.history.edit)) {
      this.drawNow();
      return Promise.resolve();
    }
    this.history.push(edit);
    return this.stepped();
  }

  stepped(words = "") {
    return this.settling = this.follow(words);
  }

  undo() {
    if (!this.tool?.undo() && this.history?.undo()) this.stepped("Undone. ");
  }

  redo() {
    if (this.tool?.isDrawing) this.say("Finish the line or drop it first.");
    else if (this.history?.redo()) this.stepped("Redone. ");
  }

  async follow(words) {
    this.shown = null;
    this.ring = Math.min(this.ring, this.edit.openings.length);
    if (this.point >= rings(this.edit)[this.ring].points.length) this.point = -1;
    const weighing = this.weigh(words); // asked for first, so that the program works while the page paints
    this.hooks.stepped();
    this.drawNow();
    await this.followSheet();
    await weighing;
  }

  /** Ask the program what the drawing means; the answer to an older one is not waited for. */
  async weigh(words = "") {
    this.asking?.abort();
    const asking = this.asking = new AbortController();
    this.isWeighing = true;
    const began = performance.now();
    try {
      const outcome = await post("figures", { edit: this.edit }, asking.signal);
      this.take(outcome, performance.now() - began, words);
    } catch (error) {
      if (error.name !== "AbortError") this.fail(error);
    } finally {
      if (this.asking === asking) this.isWeighing = false;
    }
  }

  take(outcome, tookMs = 0, words = "") {
    this.tookMs = tookMs;
    this.problems = outcome.problems;
    // The last good figures stay readable, marked as old, while the drawing cannot be measured.
    if (outcome.ok) this.outcome = outcome;
    this.hooks.weighed(outcome, words);
    this.drawNow();
  }

  async busy(work) {
    this.hooks.busy(true);
    try {
      await work();
    } catch (error) {
      this.fail(error);
    } finally {
      this.hooks.busy(false);
    }
  }

  fail(error) {
    if (!(error instanceof Refusal)) console.error(error);
    this.hooks.failed(error);
  }

  choose(ring, point) {
    this.ring = ring;
    this.point = point;
    this.hooks.chosen();
    this.drawNow();
  }

  step(by) {
    if (!this.edit) return; // while it is marked there are no points yet
    const count = rings(this.edit)[this.ring].points.length;
    this.choose(this.ring, this.point < 0 ? 0 : (this.point + by + count) % count);
    this.view.show(...rings(this.edit)[this.ring].points[this.point]);
    this.drawNow(true);
    this.sayPoint();
  }

  nextRing() {
    const count = rings(this.edit).length;
    this.choose((this.ring + 1) % count, -1);
    this.say(this.ring ? `Opening ${this.ring} of ${count - 1}` : "The outline");
  }

  get doubts() { return this.outcome?.doubts ?? []; }

  /** Numbers of the doubtful stretches no hand has answered for, without what is so for their sake alone. */
  openDoubts() {
    return [...this.doubts.keys()].filter((i) => !this.doubts[i].settled && !this.doubts[i].rest);
  }

  /** The number of the doubtful stretch that was gone to last, if it is still open; else -1. */
  get chosenDoubt() { return this.openDoubts().includes(this.doubt) ? this.doubt : -1; }

  /** Go to the next doubtful stretch that no hand has answered for yet. */
  nextDoubt(by) {
    const open = this.openDoubts();
    if (!open.length) {
      this.say("No stretch of the outline is in doubt.");
      return;
    }
    const beyond = by > 0 ? open.find((i) => i > this.doubt) : open.findLast((i) => i < this.doubt);
    this.showDoubt(beyond ?? (by > 0 ? open[0] : open[open.length - 1]));
  }

  /** Go to a doubtful stretch: it is the one that is then declared right. */
  showDoubt(number) {
    const doubt = this.doubts[number], open = this.openDoubts();
    this.doubt = number;
    const x = (doubt.start[0] + doubt.end[0]) / 2, y = (doubt.start[1] + doubt.end[1]) / 2;
    const span = Math.max(Math.hypot(doubt.start[0] - doubt.end[0], doubt.start[1] - doubt.end[1]), 20);
    this.view.scale = this.view._kept(Math.min(this.view.width, this.view.height) / (2.2 * span));
    [this.view.x, this.view.y] = [x, y];
    const points = this.edit.outer.points;
    const near = points.reduce((best, p, i) => {
      const d = Math.hypot(p[0] - x, p[1] - y);
      return d < best[0] ? [d, i] : best;
    }, [Infinity, 0])[1];
    this.choose(0, near);
    this.drawNow(true);
    const place = open.includes(number) ? `. ${open.indexOf(number) + 1} of ${open.length}; Y declares it right` : "";
    this.say(`${doubt.side}, ${doubt.length} mm: ${doubt.reason}${place}`);
  }

  /** Lines across the axis, with where along it they are seen. The butt's rim is seen beyond its place. */
  marks() {
    const { edit, outcome } = this;
    const marks = [
      { name: "butt", words: "butt", y: (edit.butt_mm ?? outcome?.butt ?? 0) + (outcome?.buttShift ?? 0) },
      { name: "handle top", words: "handle top", y: edit.handle_top_mm },
    ];
    if (edit.throat_top_mm !== null) marks.push({ name: "throat top", words: "throat top", y: edit.throat_top_mm });
    return marks;
  }

  markWords(mark) {
    return { "axis-high": "The axis at the tip", "axis-low": "The axis at the butt", butt: "The butt line",
      "handle top": "The handle top", "throat top": "The throat top" }[mark] ?? "";
  }

  say(words) { this.hooks.say(words); }
  tell(words) { this.hooks.tell(words); }

  sayPoint(before = "") {
    const said = rings(this.edit)[this.ring], p = said.points[this.point];
    if (!p) return;
    const place = this.ring ? `opening ${this.ring}` : p[0] > 0 ? "right side" : "left side";
    const kind = said.corners[this.point] ? "corner" : "point";
    this.say(`${before}${kind} ${this.point + 1} of ${said.points.length}, ${place}, ${p[0].toFixed(1)} across, ${p[1].toFixed(1)} up`);
  }
}
