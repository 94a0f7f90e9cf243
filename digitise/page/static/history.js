// Every step drawn, undo and redo without end, and the draft that the program keeps of them.

import { post, windowName } from "./api.js";

const MOST_AT_ONCE = 2 ** 20; // characters, nearly all of them of one byte
const PAUSE_MS = 350, REFUSED = 422;

export class History {
  constructor(start, told) {
    this.steps = start.steps;
    this.at = start.at;
    this.saved = start.saved;
    this.number = start.number;
    this.sent = start.steps.length;
    this.sentAt = start.at;
    this.told = told;
  }

  get edit() { return this.steps[this.at]; }
  get canUndo() { return this.at > 0; }
  get canRedo() { return this.at < this.steps.length - 1; }
  get isSaved() { return this.saved === this.at; }
  get isKept() { return this.sent === this.steps.length && this.sentAt === this.at; }

  push(edit) {
    this.steps.length = this.at + 1;
    this.sent = Math.min(this.sent, this.steps.length);
    this._cut = Math.min(this._cut ?? Infinity, this.steps.length);
    if (this.saved > this.at) this.saved = -1;
    this.steps.push(edit);
    this.at += 1;
    this._later();
  }

  undo() { return this._go(this.at - 1); }
  redo() { return this._go(this.at + 1); }

  _go(at) {
    if (at < 0 || at >= this.steps.length) return false;
    this.at = at;
    this._later();
    return true;
  }

  _later() {
    clearTimeout(this._timer);
    this._timer = setTimeout(() => this.sync().catch(() => {}), PAUSE_MS);
    this.told("draft", "waiting");
  }

  /** Send what the program does not have yet. One sending at a time; they keep their order. */
  sync(force = false) {
    clearTimeout(this._timer);
    const next = (this._last ?? Promise.resolve()).catch(() => {}).then(() => this._send(force));
    this._last = next;
    return next;
  }

  async _send(force) {
    if (this.isKept && !force) {
      this.told("draft", "kept");
      return;
    }
    const keep = force ? 0 : this.sent, until = this._until(keep), at = Math.min(this.at, until - 1);
    const isAll = until === this.steps.length;
    this._cut = Infinity; // what is drawn over while the answer is on its way
    const said = { window: windowName, number: this.number, keep, steps: this.steps.slice(keep, until), at, force };
    try {
      const answer = await post("steps", said);
      this.number = answer.number;
      this.sent = Math.min(until, this._cut);
      this.sentAt = at;
      this.inFile = answer.saved;
      if (!isAll) return this._send(false);
      this.told("draft", this.isKept ? "kept" : "waiting", answer);
      if (!this.isKept) this._later();
    } catch (error) {
      if (error.status === REFUSED && this._dropUndone()) return this._send(force);
      this.told("draft", "failed", error);
      throw error;
    }
  }

  /** Up to where the steps go into one sending, which may not be too large. */
  _until(keep) {
    let until = keep, size = 0;
    while (until < this.steps.length && (size += JSON.stringify(this.steps[until]).length) < MOST_AT_ONCE) until += 1;
    return Math.min(Math.max(until, keep + 1), this.steps.length);
  }

  /** Go on from this window's steps whatever another one has drawn. */
  async takeOver() {
    await this.sync(true);
    this.saved = this.inFile; // the other window may have saved, or not
  }

  /** Let go of undone steps that the program has never had; whether there were any. One may be what it refused. */
  _dropUndone() {
    const had = Math.max(this.at + 1, this.sent);
    if (this.steps.length <= had) return false;
    this.steps.length = had;
    return true;
  }

  async save(force = false) {
    await this.sync();
    const answer = await post("save", { number: this.number, force });
    this.saved = answer.saved;
    return answer;
  }
}
