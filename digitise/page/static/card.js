// The card's corners, dragged on the straightened photo: everything re-scales.

import { post } from "./api.js";
import { drawCard } from "./draw.js";
import { Tool, isClick, nearestSpot } from "./tools.js";

export class CardTool extends Tool {
  constructor(app) {
    super(app);
    this.chosen = 0;
  }

  get card() { return this.drag?.card ?? this.app.sheet.card ?? []; }

  down(pointer) {
    const i = nearestSpot(this.app.view, this.card, pointer);
    if (i < 0) return false;
    this.chosen = i;
    this.drag = { card: this.card.slice(), from: this.card[i], at: [pointer.x, pointer.y], px: pointer.px, py: pointer.py };
    return true;
  }

  move(pointer) {
    const { drag, app } = this;
    if (!drag || (!drag.moved && isClick(drag, pointer))) return;
    drag.moved = true;
    drag.card[this.chosen] = [drag.from[0] + pointer.x - drag.at[0], drag.from[1] + pointer.y - drag.at[1]];
    app.drawNow();
  }

  up() {
    const { drag } = this;
    this.drag = null;
    if (drag?.moved) this.settle(drag.card, false);
  }

  nudge(dx, dy) {
    const card = this.card.slice();
    if (!card.length) return false;
    card[this.chosen] = [card[this.chosen][0] + dx, card[this.chosen][1] + dy];
    this.settle(card, false);
    return true;
  }

  step(by) {
    this.chosen = (this.chosen + by + 4) % 4;
    this.app.say(`Card corner ${this.chosen + 1} of 4`);
    this.app.drawNow();
    return true;
  }

  async settle(corners, snap) {
    await this.app.busy(async () => {
      const answer = await post("card", { edit: this.app.edit, corners, snap });
      this.app.addSheet(answer.sheet, answer.edit);
      this.app.commit(answer.edit);
      this.app.say("The scale follows the card's new corners.");
    });
  }

  focus() { return this.card[this.chosen] ?? null; }

  draw(pen) {
    if (this.card.length) drawCard(pen, this.card, this.chosen);
  }
}
