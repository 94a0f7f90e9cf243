// The tools that take hold of what is there: points, pulls and landmarks.

import { INK, curveOf, drawMarks } from "./draw.js";
import {
  addedPoint, axisFrame, mirrorSpot, mirrorWay, movedPoint, onAxis, pullOf, pulled, rings,
  turnedCorner, twinOf, withoutPoint,
} from "./edits.js";

const CLICK_PX = 4;

/** Nearest of some spots to the pointer, or -1 beyond the grip. */
export function nearestSpot(view, spots, pointer) {
  let best = -1, away = pointer.grip;
  spots.forEach((spot, i) => {
    const [x, y] = view.toScreen(...spot);
    const d = Math.hypot(x - pointer.px, y - pointer.py);
    if (d < away) { best = i; away = d; }
  });
  return best;
}

/** Whether the pointer has hardly moved since it was pressed: a click is never quite still. */
export const isClick = (drag, pointer) => Math.hypot(pointer.px - drag.px, pointer.py - drag.py) < CLICK_PX;

export class Tool {
  constructor(app) { this.app = app; }
  get isDragging() { return Boolean(this.drag); }
  down() { return false; }
  move() {}
  up() {}
  key() { return false; }
  leave() { this.drag = null; }
  interrupted() { this.leave(); }
  /** Take back what is no step yet; whether there was any. */
  undo() { return false; }
  draw() {}
  focus() { return null; }
}

/** A tool whose drag is shown while it lasts, and is a step once it is let go. */
class MoveTool extends Tool {
  up() {
    const { drag, app } = this;
    this.drag = null;
    if (drag?.moved) app.commit(app.edit);
  }

  /** The chosen point by the arrow keys: ``nudged`` says to what drawing, and which point it then is. */
  nudge(dx, dy) {
    const { app } = this;
    if (app.point < 0) return false;
    const { edit, point, words } = this.nudged(dx, dy);
    app.commit(edit);
    app.choose(app.ring, point);
    app.sayPoint(words);
    return true;
  }
}

export class PointsTool extends MoveTool {
  down(pointer) {
    const { app } = this;
    const order = [app.ring, ...rings(app.edit).keys()];
    for (const ring of order) {
      const i = nearestSpot(app.view, rings(app.edit)[ring].points, pointer);
      if (i >= 0) return this.grab(ring, i, app.edit, pointer);
    }
    for (const ring of order) {
      const place = curveOf(rings(app.edit)[ring]).nearest(pointer.x, pointer.y);
      if (place.away * app.view.scale < pointer.grip * 0.8) {
        const [edit, i] = addedPoint(app.edit, ring, place.piece, place.t);
        app.say(`Point added.`);
        return this.grab(ring, i, edit, pointer, true);
      }
    }
    return false;
  }

  grab(ring, i, edit, pointer, isNew = false) {
    const { app } = this;
    app.choose(ring, i);
    const from = rings(edit)[ring].points[i];
    const drag = { edit, i, from, at: [pointer.x, pointer.y], px: pointer.px, py: pointer.py, isNew, moved: isNew };
    if (app.both) {
      const frame = axisFrame(edit, app.sheet.tip);
      const twin = twinOf(edit, ring, from, frame, i);
      if (twin) {
        if (twin[0] !== edit && twin[1] <= i) drag.i += 1;
        Object.assign(drag, { edit: twin[0], twin: twin[1], frame });
        drag.twinFrom = rings(twin[0])[ring].points[twin[1]];
        app.choose(ring, drag.i);
      }
    }
    this.drag = drag;
    if (isNew) app.show(drag.edit);
    return true;
  }

  move(pointer) {
    const { drag, app } = this;
    if (!drag) return;
    if (!drag.moved && isClick(drag, pointer)) return;
    drag.moved = true;
    const way = [pointer.x - drag.at[0], pointer.y - drag.at[1]];
    app.show(this.moved(drag, way));
    app.tell(`moved ${Math.hypot(...way).toFixed(1)} mm`);
  }

  moved(drag, way) {
    const to = (from, [dx, dy]) => [from[0] + dx, from[1] + dy];
    let edit = movedPoint(drag.edit, this.app.ring, drag.i, to(drag.from, way));
    if (drag.twin !== undefined) {
      edit = movedPoint(edit, this.app.ring, drag.twin, to(drag.twinFrom, mirrorWay(drag.frame, way)));
    }
    return edit;
  }

  nudged(dx, dy) {
    const { app } = this;
    this.grab(app.ring, app.point, app.edit, { x: 0, y: 0, px: 0, py: 0 });
    const edit = this.moved(this.drag, [dx, dy]);
    this.drag = null;
    return { edit, point: app.point, words: "" };
  }

  key(event) {
    const { app } = this;
    if (event.key === "Enter") return this.add();
    if (event.key === "Delete" || event.key === "Backspace") return this.remove();
    if (event.key.toLowerCase() === "k") return this.turn();
    return false;
  }

  add() {
    const { app } = this;
    const [edit, i] = addedPoint(app.edit, app.ring, Math.max(app.point, 0), 0.5);
    app.choose(app.ring, i);
    app.commit(edit);
    app.sayPoint("Point added. ");
    return true;
  }

  remove() {
    const { app } = this;
    if (app.point < 0) return true;
    const edit = withoutPoint(app.edit, app.ring, app.point);
    if (!edit) {
      app.say("A curve needs at least three points.");
      return true;
    }
    app.choose(app.ring, Math.max(0, app.point - 1));
    app.commit(edit);
    app.sayPoint("Point deleted. ");
    return true;
  }

  turn() {
    const { app } = this;
    if (app.point < 0) return true;
    app.commit(turnedCorner(app.edit, app.ring, app.point));
    app.say(rings(app.edit)[app.ring].corners[app.point] ? "The point is a corner now." : "The point is smooth now.");
    return true;
  }

  focus() {
    const { app } = this;
    return app.point >= 0 ? rings(app.edit)[app.ring].points[app.point] : null;
  }

  draw(pen) {
    const { app } = this;
    drawMarks(pen, app, false);
    rings(app.edit).forEach((said, ring) => {
      if (ring !== app.ring && rings(app.edit).length > 4) return;
      said.points.forEach((p, i) => {
        const chosen = ring === app.ring && i === app.point;
        pen.point(p, { corner: said.corners[i], chosen, small: ring !== app.ring });
      });
    });
    if (app.both && this.focus()) {
      pen.hair(mirrorSpot(axisFrame(app.edit, app.sheet.tip), this.focus()));
    }
  }
}

export class PullTool extends MoveTool {
  down(pointer) {
    const { app } = this;
    for (const ring of [app.ring, ...rings(app.edit).keys()]) {
      const place = curveOf(rings(app.edit)[ring]).nearest(pointer.x, pointer.y);
      if (place.away * app.view.scale > pointer.grip) continue;
      app.choose(ring, -1);
      this.drag = { ...this.taken(app.edit, ring, place), at: [pointer.x, pointer.y], px: pointer.px, py: pointer.py, place };
      return true;
    }
    return false;
  }

  taken(edit, ring, place) {
    const { app } = this;
    const pull = pullOf(edit, ring, place, app.reach);
    if (!app.both) return pull;
    const frame = axisFrame(edit, app.sheet.tip);
    const own = rings(pull.edit)[ring];
    const mirror = curveOf(own).nearest(...mirrorSpot(frame, [place.x, place.y]));
    if (mirror.away > app.reach) return pull;
    const twin = pullOf(pull.edit, ring, mirror, app.reach);
    // The second pull may have put points in between: find the first one's points again by place.
    const points = rings(twin.edit)[ring].points;
    const taken = pull.taken.map(([i, share]) => [points.indexOf(own.points[i]), share]).filter(([i]) => i >= 0);
    return { edit: twin.edit, taken, twin: twin.taken, frame };
  }

  move(pointer) {
    const { drag, app } = this;
    if (!drag || (!drag.moved && isClick(drag, pointer))) return;
    const way = [pointer.x - drag.at[0], pointer.y - drag.at[1]];
    drag.moved = true;
    app.show(this.pulled(drag, way));
    app.tell(`pulled ${Math.hypot(...way).toFixed(1)} mm over ${app.reach} mm`);
  }

  pulled(drag, way) {
    let edit = pulled(drag.edit, this.app.ring, drag.taken, way);
    if (drag.twin) edit = pulled(edit, this.app.ring, drag.twin, mirrorWay(drag.frame, way));
    return edit;
  }

  nudged(dx, dy) {
    const { app } = this;
    const chosen = rings(app.edit)[app.ring].points[app.point];
    const place = curveOf(rings(app.edit)[app.ring]).nearest(...chosen);
    const edit = this.pulled(this.taken(app.edit, app.ring, place), [dx, dy]);
    const points = rings(edit)[app.ring].points;
    const to = [chosen[0] + dx, chosen[1] + dy];
    const near = points.reduce((best, p, i) => {
      const d = Math.hypot(p[0] - to[0], p[1] - to[1]);
      return d < best[0] ? [d, i] : best;
    }, [Infinity, 0]);
    return { edit, point: near[1], words: "Pulled. " };
  }

  draw(pen) {
    const { app } = this;
    drawMarks(pen, app, false);
    const spot = app.hover ?? (app.point >= 0 ? { x: rings(app.edit)[app.ring].points[app.point][0], y: rings(app.edit)[app.ring].points[app.point][1] } : null);
    if (!spot || this.drag) return;
    const place = curveOf(rings(app.edit)[app.ring]).nearest(spot.x, spot.y);
    if (place.away * app.view.scale > 40) return;
    const near = curveOf(rings(app.edit)[app.ring]).line.filter((p) => {
      const whole = curveOf(rings(app.edit)[app.ring]).length;
      const d = Math.abs(p.along - place.along);
      return Math.min(d, whole - d) < app.reach;
    });
    for (const p of near) pen.point([p.x, p.y], { small: true, colour: INK.line });
    pen.point([place.x, place.y], { chosen: true });
  }
}

export class MarksTool extends MoveTool {
  spots() {
    const { app } = this;
    const frame = axisFrame(app.edit, app.sheet.tip);
    return [
      ["axis-high", onAxis(frame, app.sheet.tip + 14)], ["axis-low", onAxis(frame, -14)],
      ...app.marks().map((mark) => [mark.name, onAxis(frame, mark.y, 46)]),
    ];
  }

  down(pointer) {
    const spots = this.spots();
    const i = nearestSpot(this.app.view, spots.map(([, spot]) => spot), pointer);
    if (i < 0) return false;
    this.app.mark = spots[i][0];
    this.drag = { edit: this.app.edit, at: [pointer.x, pointer.y] };
    this.app.drawNow();
    return true;
  }

  move(pointer) {
    const { drag, app } = this;
    if (!drag) return;
    const way = [pointer.x - drag.at[0], pointer.y - drag.at[1]];
    if (!drag.moved && Math.abs(this.counted(drag.edit, app.mark, way)) * app.view.scale < CLICK_PX) return;
    drag.moved = true;
    app.show(this.moved(drag.edit, app.mark, way));
  }

  /** What of a way counts, mm: an end of the axis moves across, a line across the axis moves along it. */
  counted(edit, mark, [dx, dy]) {
    if (mark.startsWith("axis")) return dx;
    const { up } = axisFrame(edit, this.app.sheet.tip);
    return dx * up[0] + dy * up[1];
  }

  moved(edit, mark, way) {
    const { app } = this, { tip } = app.sheet;
    const by = this.counted(edit, mark, way);
    const { at_butt_mm: low, at_tip_mm: high } = edit.axis;
    const lift = 14 / tip;
    switch (mark) {
      case "axis-high": return { ...edit, axis: { at_butt_mm: low, at_tip_mm: high + by / (1 + lift) } };
      case "axis-low": return { ...edit, axis: { at_butt_mm: low + by / (1 + lift), at_tip_mm: high } };
      case "butt": return { ...edit, butt_mm: (edit.butt_mm ?? app.outcome?.butt ?? 0) + by };
      case "handle top": return { ...edit, handle_top_mm: edit.handle_top_mm + by, marks_by_hand: true };
      case "throat top": return { ...edit, throat_top_mm: edit.throat_top_mm + by, marks_by_hand: true };
      default: return edit;
    }
  }

  nudge(dx, dy) {
    const { app } = this;
    app.mark ??= "handle top";
    const words = app.markWords(app.mark), isAxis = app.mark.startsWith("axis");
    if (!(isAxis ? dx : dy)) {
      app.say(`${words} moves ${isAxis ? "sideways" : "along the axis"} only: use the arrows ${isAxis ? "left and right" : "up and down"}.`);
      return true;
    }
    app.commit(this.moved(app.edit, app.mark, [dx, dy]));
    app.say(`${words} moved.`);
    return true;
  }

  step(by) {
    const names = this.spots().map(([name]) => name);
    const { app } = this;
    app.mark = names[(names.indexOf(app.mark) + by + names.length) % names.length];
    app.say(app.markWords(app.mark));
    app.drawNow();
    return true;
  }

  focus() {
    return this.spots().find(([name]) => name === this.app.mark)?.[1] ?? null;
  }

  draw(pen) { drawMarks(pen, this.app, true); }
}
