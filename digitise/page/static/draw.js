// What is drawn over the photo. Each kind of line has its own colour and its own style, so that neither
// colour vision nor one kind of photo decides whether it can be told apart.

import { Curve } from "./spline.js";
import { axisFrame, onAxis, rings } from "./edits.js";

export const INK = {
  outline: "#ffb000", opening: "#2fe0a8", touched: "#6cc7ff", doubt: "#ff9ad5", automatic: "#ffffff",
  axis: "#ffffff", casing: "rgba(12,14,16,.72)", wrong: "#ff5a4f", point: "#ffffff", chosen: "#ffb000",
  line: "#fff27a",
};
const curves = new WeakMap();

/** The curve of a ring, solved once for each ring. */
export function curveOf(said) {
  let curve = curves.get(said);
  if (!curve) curves.set(said, curve = new Curve(said.points, said.corners));
  return curve;
}

export class Pen {
  constructor(ctx, view, ratio) {
    this.ctx = ctx;
    this.view = view;
    this.ratio = ratio;
  }

  spot([x, y]) {
    const [px, py] = this.view.toScreen(x, y);
    return [px * this.ratio, py * this.ratio];
  }

  stroke(path, colour, width, dash = [], casing = true) {
    const { ctx, ratio } = this;
    ctx.lineJoin = ctx.lineCap = "round";
    ctx.setLineDash([]);
    if (casing) {
      ctx.strokeStyle = INK.casing;
      ctx.lineWidth = (width + 2.2) * ratio;
      if (dash.length) ctx.setLineDash(dash.map((d) => d * ratio));
      ctx.stroke(path);
    }
    ctx.setLineDash(dash.map((d) => d * ratio));
    ctx.strokeStyle = colour;
    ctx.lineWidth = width * ratio;
    ctx.stroke(path);
    ctx.setLineDash([]);
  }

  curve(said) {
    const path = new Path2D();
    const s = this.view.scale * this.ratio;
    const [ox, oy] = this.spot([0, 0]);
    const pieces = curveOf(said).pieces;
    path.moveTo(ox + pieces[0][0] * s, oy - pieces[0][1] * s);
    for (const p of pieces) {
      path.bezierCurveTo(ox + p[2] * s, oy - p[3] * s, ox + p[4] * s, oy - p[5] * s, ox + p[6] * s, oy - p[7] * s);
    }
    path.closePath();
    return path;
  }

  line(points, closed = false) {
    const path = new Path2D();
    points.forEach((p, i) => path[i ? "lineTo" : "moveTo"](...this.spot(p)));
    if (closed) path.closePath();
    return path;
  }

  label(words, at, colour, { side = "left", dy = 0 } = {}) {
    const { ctx, ratio } = this;
    const [x, y] = this.spot(at);
    ctx.font = `600 ${12 * ratio}px system-ui, sans-serif`;
    ctx.textAlign = side;
    ctx.textBaseline = "middle";
    const shift = (side === "left" ? 8 : side === "right" ? -8 : 0) * ratio;
    ctx.lineWidth = 3.5 * ratio;
    ctx.lineJoin = "round";
    ctx.strokeStyle = INK.casing;
    ctx.strokeText(words, x + shift, y + dy * ratio);
    ctx.fillStyle = colour;
    ctx.fillText(words, x + shift, y + dy * ratio);
  }

  point(at, { corner = false, chosen = false, small = false, colour = INK.point } = {}) {
    const { ctx, ratio } = this;
    const [x, y] = this.spot(at);
    const r = (chosen ? 6 : small ? 3 : 4.2) * ratio;
    const shape = new Path2D();
    if (corner) shape.rect(x - r, y - r, 2 * r, 2 * r);
    else shape.arc(x, y, r, 0, 2 * Math.PI);
    ctx.fillStyle = chosen ? INK.chosen : colour;
    ctx.strokeStyle = "rgba(10,12,14,.9)";
    ctx.lineWidth = (chosen ? 2 : 1.4) * ratio;
    ctx.fill(shape);
    ctx.stroke(shape);
    if (chosen) {
      const halo = new Path2D();
      halo.arc(x, y, r + 4 * ratio, 0, 2 * Math.PI);
      this.stroke(halo, "#fff", 1.6);
    }
  }

  cross(at, colour, size = 11) {
    const r = size * this.ratio, [x, y] = this.spot(at);
    const path = new Path2D();
    path.moveTo(x - r, y - r);
    path.lineTo(x + r, y + r);
    path.moveTo(x + r, y - r);
    path.lineTo(x - r, y + r);
    path.arc(x, y, r * 1.5, 0, 2 * Math.PI);
    this.stroke(path, colour, 2.6);
  }

  hair(at) {
    const [x, y] = this.spot(at), r = 16 * this.ratio, gap = 4 * this.ratio;
    const path = new Path2D();
    for (const [dx, dy] of [[1, 0], [-1, 0], [0, 1], [0, -1]]) {
      path.moveTo(x + dx * gap, y + dy * gap);
      path.lineTo(x + dx * r, y + dy * r);
    }
    this.stroke(path, INK.line, 1.6);
  }
}

/** The points of a stretch of the outline between two spots, counter-clockwise. */
export function stretchOf(said, start, end) {
  const line = curveOf(said).line;
  const near = ([x, y]) => line.reduce((best, p, i) => {
    const d = (p.x - x) ** 2 + (p.y - y) ** 2;
    return d < best[0] ? [d, i] : best;
  }, [Infinity, 0])[1];
  const first = near(start), last = near(end), points = [];
  for (let i = first; ; i = (i + 1) % line.length) {
    points.push([line[i].x, line[i].y]);
    if (i === last || points.length > line.length) break;
  }
  return points;
}

/** Everything that lies over the photo. */
export function drawLines(pen, app) {
  const { edit, outcome, sheet } = app;
  if (!edit) {
    app.tool?.draw?.(pen);
    return;
  }
  if (app.before && sheet.automatic) {
    pen.stroke(pen.line(sheet.automatic, true), INK.automatic, 2, [7, 4]);
    pen.label("before", sheet.automatic[0], INK.automatic);
    return;
  }
  const dragging = app.tool?.isDragging;
  if (outcome?.ok && !dragging) {
    for (const doubt of outcome.doubts) {
      if (doubt.settled) continue;
      pen.stroke(pen.line(stretchOf(edit.outer, doubt.start, doubt.end)), INK.doubt, doubt.rest ? 3 : 8, [2, 9]);
    }
  }
  rings(edit).forEach((said, ring) => {
    const colour = ring ? INK.opening : INK.outline;
    pen.stroke(pen.curve(said), colour, ring === app.ring ? 2.2 : 1.6, ring ? [9, 3] : []);
  });
  if (outcome?.ok && !dragging) {
    for (const touched of outcome.touched) {
      pen.stroke(pen.line(stretchOf(edit.outer, touched.start, touched.end)), INK.touched, 2.6);
    }
  }
  app.tool?.draw?.(pen);
  for (const problem of app.problems) if (problem.at) pen.cross(problem.at, INK.wrong);
}

/** Long axis, butt line and landmarks; with handles where they can be dragged. */
export function drawMarks(pen, app, handles) {
  const { edit, sheet } = app;
  const frame = axisFrame(edit, sheet.tip);
  const half = handles ? 46 : 30;
  pen.stroke(pen.line([onAxis(frame, -14), onAxis(frame, sheet.tip + 14)]), INK.axis, 1.3, [10, 4, 2, 4]);
  for (const mark of app.marks()) {
    const path = pen.line([onAxis(frame, mark.y, -half), onAxis(frame, mark.y, half)]);
    pen.stroke(path, INK.axis, 1.3, mark.name === "butt" ? [] : [5, 4]);
    pen.label(mark.words, onAxis(frame, mark.y, half), INK.axis);
    if (handles) pen.point(onAxis(frame, mark.y, half), { corner: true, chosen: app.mark === mark.name });
  }
  if (handles) {
    for (const [name, y] of [["axis-low", -14], ["axis-high", sheet.tip + 14]]) {
      pen.point(onAxis(frame, y), { chosen: app.mark === name });
    }
  }
}

export function drawCard(pen, card, chosen) {
  pen.stroke(pen.line(card, true), INK.touched, 2, [12, 5]);
  card.forEach((corner, i) => pen.point(corner, { corner: true, chosen: i === chosen }));
}
