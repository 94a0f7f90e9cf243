// Changes to a drawing. A drawing is never changed in place: each function gives a new one.

import { Curve, at } from "./spline.js";

const NEAR_TWIN_MM = 6, TWIN_REACH_MM = 15;

/** The rings of a drawing: 0 the outline, then its openings. */
export const rings = (edit) => [edit.outer, ...edit.openings];

export const lineName = (ring) => (ring ? `Opening ${ring}` : "Outline");

export function withRing(edit, ring, curve) {
  if (ring === 0) return { ...edit, outer: curve };
  const openings = edit.openings.slice();
  openings[ring - 1] = curve;
  return { ...edit, openings };
}

export function withoutOpening(edit, ring) {
  return { ...edit, openings: edit.openings.filter((_, i) => i !== ring - 1) };
}

export function movedPoint(edit, ring, i, to) {
  const old = rings(edit)[ring];
  const points = old.points.slice();
  points[i] = to;
  return withRing(edit, ring, { ...old, points });
}

/** A point put on the curve at share t of a piece; gives the drawing and the new point's number. */
export function addedPoint(edit, ring, piece, t) {
  const old = rings(edit)[ring];
  const curve = new Curve(old.points, old.corners);
  const points = old.points.slice(), corners = old.corners.slice();
  points.splice(piece + 1, 0, at(curve.pieces[piece], t));
  corners.splice(piece + 1, 0, false);
  return [withRing(edit, ring, { points, corners }), piece + 1];
}

export function withoutPoint(edit, ring, i) {
  const old = rings(edit)[ring];
  if (old.points.length <= 3) return null;
  const without = (list) => list.filter((_, j) => j !== i);
  return withRing(edit, ring, { points: without(old.points), corners: without(old.corners) });
}

export function turnedCorner(edit, ring, i) {
  const old = rings(edit)[ring];
  const corners = old.corners.slice();
  corners[i] = !corners[i];
  return withRing(edit, ring, { ...old, corners });
}

/** Unit vectors of the drawn axis: where it starts, right and up. */
export function axisFrame(edit, tip) {
  const dx = edit.axis.at_tip_mm - edit.axis.at_butt_mm, size = Math.hypot(dx, tip);
  const up = [dx / size, tip / size];
  return { origin: [edit.axis.at_butt_mm, 0], up, right: [up[1], -up[0]] };
}

export function onAxis(frame, y, x = 0) {
  return [frame.origin[0] + frame.up[0] * y + frame.right[0] * x,
    frame.origin[1] + frame.up[1] * y + frame.right[1] * x];
}

export function intoFrame(frame, [x, y]) {
  const dx = x - frame.origin[0], dy = y - frame.origin[1];
  return [dx * frame.right[0] + dy * frame.right[1], dx * frame.up[0] + dy * frame.up[1]];
}

export function mirrorSpot(frame, spot) {
  const [x, y] = intoFrame(frame, spot);
  return onAxis(frame, y, -x);
}

export function mirrorWay(frame, [dx, dy]) {
  const across = dx * frame.right[0] + dy * frame.right[1];
  return [dx - 2 * across * frame.right[0], dy - 2 * across * frame.right[1]];
}

/** The point that mirrors a spot, made where there is none: [drawing, number], or null far from the curve. */
export function twinOf(edit, ring, spot, frame, self) {
  const mirror = mirrorSpot(frame, spot);
  const own = rings(edit)[ring];
  let best = -1, away = NEAR_TWIN_MM;
  own.points.forEach((p, i) => {
    const d = Math.hypot(p[0] - mirror[0], p[1] - mirror[1]);
    if (d < away && i !== self) { best = i; away = d; }
  });
  if (best >= 0) return [edit, best];
  const place = new Curve(own.points, own.corners).nearest(...mirror);
  if (place.away > TWIN_REACH_MM || Math.hypot(mirror[0] - spot[0], mirror[1] - spot[1]) < NEAR_TWIN_MM) return null;
  return addedPoint(edit, ring, place.piece, place.t);
}

/** What a pull takes along: numbers and shares of points within reach, and the curve with enough of them. */
export function pullOf(edit, ring, place, reach) {
  let own = rings(edit)[ring];
  let curve = new Curve(own.points, own.corners);
  const fine = Math.max(reach / 3, 2);
  const points = [], corners = [];
  const whole = (curve.line, curve.length);
  const apart = (along) => {
    const d = Math.abs(along - place.along) % whole;
    return Math.min(d, whole - d);
  };
  own.points.forEach((p, i) => {
    points.push(p);
    corners.push(own.corners[i]);
    const from = curve.alongOf(i);
    const to = i + 1 < own.points.length ? curve.alongOf(i + 1) : whole;
    const holds = place.piece === i;
    if (!holds && apart(from) > reach && apart(to) > reach) return;
    const shares = [];
    const count = Math.ceil((to - from) / fine);
    for (let s = 1; s < count; s++) shares.push(s / count);
    if (holds && place.t > 0.02 && place.t < 0.98 && !shares.some((t) => Math.abs(t - place.t) * (to - from) < fine / 2)) {
      shares.push(place.t);
      shares.sort((a, b) => a - b);
    }
    for (const t of shares) { points.push(at(curve.pieces[i], t)); corners.push(false); }
  });
  const fuller = withRing(edit, ring, { points, corners });
  own = rings(fuller)[ring];
  curve = new Curve(own.points, own.corners);
  const grabbed = curve.nearest(place.x, place.y);
  const taken = [];
  own.points.forEach((_, i) => {
    const d = Math.abs(curve.alongOf(i) - grabbed.along) % (curve.line, curve.length);
    const s = Math.min(d, curve.length - d) / reach;
    if (s < 1) taken.push([i, (1 - s * s) ** 2]);
  });
  return { edit: fuller, taken };
}

export function pulled(edit, ring, taken, [dx, dy]) {
  const old = rings(edit)[ring];
  const points = old.points.slice();
  for (const [i, share] of taken) points[i] = [points[i][0] + dx * share, points[i][1] + dy * share];
  return withRing(edit, ring, { ...old, points });
}

/** Whether two drawings are the same, for steps that change nothing. */
export const same = (a, b) => JSON.stringify(a) === JSON.stringify(b);

export function box(points, margin = 0) {
  const xs = points.map((p) => p[0]), ys = points.map((p) => p[1]);
  return [Math.min(...xs) - margin, Math.min(...ys) - margin, Math.max(...xs) + margin, Math.max(...ys) + margin];
}
