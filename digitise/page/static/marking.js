// A racquet marked from the start: the card's corners on the photo, then a line round the racquet.

import { post } from "./api.js";
import { drawCard } from "./draw.js";
import { el, button } from "./dom.js";
import { RedrawTool } from "./redraw.js";
import { Tool, isClick, nearestSpot } from "./tools.js";

class CornersTool extends Tool {
  constructor(app, corners) {
    super(app);
    this.name = "corners";
    this.corners = corners ?? [];
    this.chosen = 0;
    this.past = []; // the corners before each change
  }

  /** The corners are about to change. */
  changing() {
    this.past.push(this.corners.slice());
    this.app.hasMarks = true;
  }

  undo() {
    if (!this.past.length) return false;
    this.corners = this.past.pop();
    this.chosen = Math.max(0, Math.min(this.chosen, this.corners.length - 1));
    this.drag = null;
    this.app.say(`Taken back. ${this.corners.length} of 4 corners set.`);
    this.changed?.();
    this.app.drawNow();
    return true;
  }

  down(pointer) {
    const i = nearestSpot(this.app.view, this.corners, pointer);
    if (i < 0 && this.corners.length === 4) return false;
    if (i < 0) this.changing();
    this.chosen = i < 0 ? this.corners.push([pointer.x, pointer.y]) - 1 : i;
    this.drag = { from: this.corners[this.chosen], at: [pointer.x, pointer.y], px: pointer.px, py: pointer.py, moved: i < 0 };
    this.told();
    return true;
  }

  move(pointer) {
    const { drag } = this;
    if (!drag) return;
    if (!drag.moved) {
      if (isClick(drag, pointer)) return;
      drag.moved = true;
      this.changing();
    }
    this.corners[this.chosen] = [drag.from[0] + pointer.x - drag.at[0], drag.from[1] + pointer.y - drag.at[1]];
    this.app.drawNow();
  }

  up() {
    this.drag = null;
    this.app.drawNow();
  }

  /** Two fingers move the view: what the first one did is taken back. */
  interrupted() {
    if (this.drag?.moved) this.undo();
    this.drag = null;
  }

  told() {
    this.app.say(`Corner ${this.chosen + 1} of 4`);
    this.changed?.();
    this.app.drawNow();
  }

  nudge(dx, dy) {
    // On the bare photo a "mm" is a pixel: move by 1, with Shift 10, with Ctrl 100.
    this.changing();
    const spot = this.corners[this.chosen] ?? [this.app.view.x, this.app.view.y];
    this.corners[this.chosen] = [spot[0] + dx * 10, spot[1] + dy * 10];
    this.app.view.show(...this.corners[this.chosen]);
    this.app.drawNow(true);
    this.changed?.();
    return true;
  }

  step(by) {
    const { length } = this.corners;
    if (!length) {
      this.app.say("No corner is set yet: Enter sets one in the middle of the view, arrow keys then move it.");
      return true;
    }
    this.chosen = (this.chosen + by + length) % length;
    this.told();
    return true;
  }

  key(event) {
    if (event.key !== "Enter") return false;
    if (this.corners.length < 4) {
      this.changing();
      this.chosen = this.corners.push([this.app.view.x, this.app.view.y]) - 1;
      this.told();
    }
    return true;
  }

  focus() { return this.corners[this.chosen] ?? null; }

  draw(pen) {
    if (this.corners.length > 2) drawCard(pen, this.corners, this.chosen);
    else this.corners.forEach((spot, i) => pen.point(spot, { corner: true, chosen: i === this.chosen }));
  }
}

export function beginMarking(start, app, controls, panelRoot) {
  const tool = new CornersTool(app, start.sheet.card);
  const next = button("Next: the racquet", () => app.busy(racquet), { class: "main-action" });
  const back = button("Back to the card", toCard);
  const snap = el("input", { type: "checkbox", checked: true, id: "mark-snap" });
  const words = el("p");
  const step = el("p", { class: "step" });
  const snapping = el("label", { class: "check" }, snap, " Snap to the card's edges");
  const part = el("div");
  panelRoot.replaceChildren(el("section", {}, el("h2", {}, "Mark it by hand"), step, words, part));
  tool.changed = () => { next.disabled = tool.corners.length < 4; };
  tool.changed();
  controls.hideTools();
  card();

  function card() {
    step.textContent = "Step 1 of 2: the card";
    words.textContent = start.sheet.card
      ? "A card was found: check its four corners, where its straight sides would meet. Drag them if they are off."
      : "Click the four corners of the card, where its straight sides would meet. The glass helps while you drag.";
    show(start.sheet, tool, snapping, el("div", { class: "row" }, next));
  }

  /** A step of the marking: its sheet, its tool, and what it offers in the panel. */
  function show(sheet, tool, ...offers) {
    app.useSheet(sheet);
    app.tool = tool;
    part.replaceChildren(...offers);
    app.fit();
    controls.refresh();
    app.drawNow(true);
  }

  function toCard() {
    if (app.tool.isDrawing) {
      app.say("The spots belong to the card as it is: drop them first.");
      return;
    }
    card();
    controls.surface.focus();
    app.say("Back at the card: mend its corners, then go on.");
  }

  async function racquet() {
    const answer = await post("mark-card", { corners: tool.corners, snap: snap.checked });
    const redraw = new RedrawTool(app, { closedOnly: true, onClosed: done });
    redraw.name = "redraw";
    step.textContent = "Step 2 of 2: the racquet";
    words.textContent = "Click along the racquet's edge all the way round; between clicks the line follows the edge. End where you began.";
    show(answer.sheet, redraw, el("div", { class: "row" }, back));
    controls.surface.focus();
    app.say("The card is marked. Now go round the racquet.");
  }

  async function done(line, followed) {
    await post("mark-outline", { line, snap: app.snap, followed });
    app.tool.clear();
    app.hasMarks = false; // the program has them
    location.reload();
  }
}
