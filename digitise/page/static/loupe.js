// A round glass that shows, enlarged, what the pointer covers while something is dragged.

import { Pen, drawLines } from "./draw.js";

const SIZE = 176;

export class Loupe {
  constructor(canvas, app) {
    this.canvas = canvas;
    this.app = app;
    canvas.style.width = canvas.style.height = `${SIZE}px`;
  }

  show(spot, pointer) {
    const { app, canvas } = this;
    const { view, tiles, ratio } = app;
    canvas.hidden = false;
    canvas.width = canvas.height = Math.round(SIZE * ratio);
    const close = Object.assign(view.copy(), { width: SIZE, height: SIZE, x: spot[0], y: spot[1] });
    close.scale = Math.max(view.scale * 4, 5 / app.sheet.mmPerPx);
    const ctx = canvas.getContext("2d");
    ctx.fillStyle = "#494949";
    ctx.fillRect(0, 0, canvas.width, canvas.height);
    tiles.draw(ctx, close, ratio);
    const pen = new Pen(ctx, close, ratio);
    drawLines(pen, app);
    pen.hair(spot);
    // In the corner that is farthest from the pointer.
    const left = pointer.px > view.width / 2, top = pointer.py > view.height / 2;
    canvas.style.left = left ? "14px" : "auto";
    canvas.style.right = left ? "auto" : "14px";
    canvas.style.top = top ? "14px" : "auto";
    canvas.style.bottom = top ? "auto" : "56px";
  }

  hide() { this.canvas.hidden = true; }
}
