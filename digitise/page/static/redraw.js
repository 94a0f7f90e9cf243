// Drawing a line anew: freehand, or from click to click with the line following the edge between them.

import { post } from "./api.js";
import { INK, drawMarks } from "./draw.js";
import { Tool } from "./tools.js";

const FREEHAND_PX = 6, CLOSE_PX = 12;

export class RedrawTool extends Tool {
  constructor(app, { closedOnly = false, onClosed = null } = {}) {
    super(app);
    this.closedOnly = closedOnly;
    this.onClosed = onClosed;
    this.newOpening = false;
    this.last = Promise.resolve();
    this.clear();
  }

  clear() {
    this.hasFree = false; // a freehand line that was refused is part of it
    this.anchors = [];
    this.fixed = [];
    this.isStraight = false; // some piece of the line did not follow an edge
    this.live = null;
    this.free = null;
    this.cursor = null;
    this.app.toolChanged?.();
  }

  get isDrawing() { return this.anchors.length > 0; }
  get isDragging() { return Boolean(this.free); }
  get isClosing() { return this.closedOnly || this.newOpening; }
  get line() { return this.fixed.flat(); }

  down(pointer) {
    this.pressed = { x: pointer.x, y: pointer.y, px: pointer.px, py: pointer.py };
    return true;
  }

  move(pointer) {
    const { pressed } = this;
    if (!pressed) return;
    if (!this.free && !this.anchors.length && Math.hypot(pointer.px - pressed.px, pointer.py - pressed.py) > FREEHAND_PX) {
      this.free = [[pressed.x, pressed.y]];
    }
    if (this.free) {
      this.free.push([pointer.x, pointer.y]);
      this.app.drawNow();
    }
  }

  async up(pointer) {
    const { pressed, free } = this;
    this.pressed = null;
    if (free) {
      this.free = null;
      const ends = [free[0], free[free.length - 1]];
      const closed = this.isClosing || this.near(ends[0], ends[1]) && free.length > 20;
      await this.finish(free, closed);
    } else if (pressed && pointer) {
      await this.click([pressed.x, pressed.y]);
    }
  }

  near(a, b) {
    return Math.hypot(a[0] - b[0], a[1] - b[1]) * this.app.view.scale < CLOSE_PX;
  }

  /** Clicks may come faster than the program answers: each waits for the one before. */
  inTurn(step) {
    this.last = this.last.then(step, step);
    return this.last;
  }

  click(spot) { return this.inTurn(() => this.add(spot)); }

  async add(spot) {
    if (this.anchors.length > 2 && this.near(spot, this.anchors[0])) {
      await this.end(null, true);
      return;
    }
    if (this.anchors.length && this.near(spot, this.anchors[this.anchors.length - 1])) {
      if (this.isClosing) this.app.say("This spot is set already. The line closes at the first spot, or with Close the line.");
      else if (this.anchors.length > 1) await this.end(null, false);
      return;
    }
    const { anchors } = this;
    const line = anchors.length ? await this.between(anchors[anchors.length - 1], spot) : [spot];
    if (anchors !== this.anchors) return; // dropped meanwhile
    this.isStraight ||= anchors.length > 0 && line[0] === anchors[anchors.length - 1];
    if (anchors.length === 1) this.fixed = [[]]; // the line begins on the first click's edge, not on the click
    this.fixed.push(line);
    anchors.push(spot);
    this.live = null;
    this.app.toolChanged?.();
    this.app.say(`Spot ${this.anchors.length} set. Enter sets the next, F finishes.`);
    this.app.drawNow();
  }

  /** The line from one spot to the next: along the edge with snapping on, straight without. */
  async between(from, to) {
    if (!this.app.snap) return [from, to];
    try {
      const { line } = await post("follow", { sheet: this.app.sheet.key, anchor: from, to });
      const end = line[line.length - 1];
      return end && Math.hypot(end[0] - to[0], end[1] - to[1]) > 2 ? [...line, to] : line;
    } catch (error) {
      this.app.fail(error);
      return [from, to];
    }
  }

  /** While the pointer moves without a button: the line to where it is. One question at a time. */
  async hovered(spot) {
    if (!this.anchors.length || this.asking) {
      this.waiting = spot;
      return;
    }
    this.asking = true;
    const from = this.anchors[this.anchors.length - 1];
    const line = await this.between(from, spot);
    this.asking = false;
    if (this.anchors[this.anchors.length - 1] === from) {
      this.live = line;
      this.app.drawNow();
    }
    const next = this.waiting;
    this.waiting = null;
    if (next && next !== spot) this.hovered(next);
  }

  finish(free, closed) { return this.inTurn(() => this.end(free, closed)); }

  /** Send the line. Its spots stay until it is accepted, so that what was refused can be mended. */
  async end(free, closed) {
    const { app, anchors } = this;
    if (!free && !this.isEnough(closed)) return;
    const line = free ?? this.line;
    if (closed && !free) line.push(...await this.between(anchors[anchors.length - 1], anchors[0]));
    const followed = !free && !this.isStraight;
    app.drawNow();
    if (line.length < 2 || anchors !== this.anchors) return; // dropped meanwhile
    await app.busy(async () => {
      try {
        if (this.onClosed) await this.onClosed(line, followed);
        else await this.redraw(line, closed, followed);
      } catch (error) {
        if (free && !this.isDrawing) this.keep(free);
        throw error;
      }
    });
  }

  isEnough(closed) {
    const { length } = this.anchors, least = closed ? 3 : 2;
    if (length >= least || this.hasFree) return true;
    this.app.say(`${closed ? "A line all the way round" : "A line"} needs ${least} spots or more; ${length} set so far.`);
    return false;
  }

  async redraw(line, closed, followed) {
    const { app, anchors, newOpening } = this, { ring } = app;
    const answer = await post("redraw", {
      edit: app.edit, ring: newOpening ? 0 : ring, line, closed, snap: app.snap, followed, new_opening: newOpening,
    });
    if (anchors !== this.anchors) return;
    this.newOpening = false;
    this.clear();
    app.point = -1;
    app.commit(answer.edit);
    app.choose(newOpening ? answer.edit.openings.length : ring, -1);
    app.say(newOpening ? "Opening added." : "The stretch is redrawn.");
  }

  /** A freehand line that was refused, to go on from its end. */
  keep(free) {
    this.anchors = [free[0], free[free.length - 1]];
    this.fixed = [[free[0]], free.slice(1)];
    this.isStraight = this.hasFree = true;
    this.app.toolChanged?.();
    this.app.drawNow();
  }

  nudge(dx, dy) {
    const middle = [this.app.view.x, this.app.view.y];
    const [x, y] = this.cursor ?? this.anchors[this.anchors.length - 1] ?? middle;
    this.cursor = [x + dx, y + dy];
    this.app.view.show(...this.cursor);
    this.hovered(this.cursor);
    this.app.say(`${this.cursor[0].toFixed(1)}, ${this.cursor[1].toFixed(1)}`);
    this.app.drawNow();
    return true;
  }

  key(event) {
    if (event.key === "Enter") {
      this.click(this.cursor ?? [this.app.view.x, this.app.view.y]);
      return true;
    }
    if (event.key.toLowerCase() === "f" && this.isDrawing) {
      this.finish(null, this.isClosing);
      return true;
    }
    if (event.key === "Backspace" && this.isDrawing) {
      this.back();
      return true;
    }
    if (event.key === "Escape" && (this.isDrawing || this.newOpening)) {
      this.newOpening = false;
      this.clear();
      this.app.say("Nothing was drawn.");
      this.app.drawNow();
      return true;
    }
    return false;
  }

  back() {
    this.anchors.pop();
    this.fixed.pop();
    this.live = null;
    this.app.toolChanged?.();
    this.app.drawNow();
  }

  /** What Undo takes back while a line is drawn: its last spot. */
  undo() {
    if (!this.isDrawing) return false;
    this.back();
    this.app.say(`Spot taken back. ${this.anchors.length} set.`);
    return true;
  }

  leave() { this.clear(); }

  /** Two fingers move the view: the spots set so far stay. */
  interrupted() {
    this.pressed = null;
    this.free = null;
  }

  focus() { return this.cursor ?? this.free?.[this.free.length - 1] ?? null; }

  draw(pen) {
    if (this.app.edit) drawMarks(pen, this.app, false);
    const line = this.free ?? this.line;
    if (line.length > 1) pen.stroke(pen.line(line), INK.line, 2.2);
    if (this.live) pen.stroke(pen.line(this.live), INK.line, 1.8, [5, 4]);
    this.anchors.forEach((spot, i) => pen.point(spot, { chosen: i === 0 && this.anchors.length > 2, colour: INK.line }));
    if (this.cursor) pen.hair(this.cursor);
  }
}
