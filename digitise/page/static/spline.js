// Closed curves through points, the same as model/spline.py: one cubic over the chord length between
// corners, periodic where there is none, with not-a-knot ends at corners.

/** Solve a tridiagonal system in place; all arrays have length n. */
function tridiagonal(lower, middle, upper, right) {
  const n = middle.length, c = new Float64Array(n), d = new Float64Array(n);
  c[0] = upper[0] / middle[0];
  d[0] = right[0] / middle[0];
  for (let i = 1; i < n; i++) {
    const w = middle[i] - lower[i] * c[i - 1];
    c[i] = upper[i] / w;
    d[i] = (right[i] - lower[i] * d[i - 1]) / w;
  }
  for (let i = n - 2; i >= 0; i--) d[i] -= c[i] * d[i + 1];
  return d;
}

/** Slopes at n points of one coordinate p over chords h (n) of a closed curve. */
function roundSlopes(p, h) {
  const n = p.length;
  const lower = new Float64Array(n), middle = new Float64Array(n), upper = new Float64Array(n);
  const right = new Float64Array(n);
  for (let i = 0; i < n; i++) {
    const before = (i + n - 1) % n, after = (i + 1) % n;
    const d0 = (p[i] - p[before]) / h[before], d1 = (p[after] - p[i]) / h[i];
    lower[i] = h[i];
    middle[i] = 2 * (h[before] + h[i]);
    upper[i] = h[before];
    right[i] = 3 * (h[i] * d0 + h[before] * d1);
  }
  // Sherman and Morrison: the two corner entries as a rank-one change.
  const alpha = upper[n - 1], beta = lower[0], gamma = -middle[0];
  const changed = Float64Array.from(middle);
  changed[0] -= gamma;
  changed[n - 1] -= (alpha * beta) / gamma;
  const x = tridiagonal(lower, changed, upper, right);
  const u = new Float64Array(n);
  u[0] = gamma;
  u[n - 1] = alpha;
  const z = tridiagonal(lower, changed, upper, u);
  const share = (x[0] + (beta * x[n - 1]) / gamma) / (1 + z[0] + (beta * z[n - 1]) / gamma);
  return x.map((v, i) => v - share * z[i]);
}

/** Slopes at n points of one coordinate over chords h (n - 1) of an open stretch. */
function openSlopes(p, h) {
  const n = p.length;
  const d = Float64Array.from(h, (step, i) => (p[i + 1] - p[i]) / step);
  if (n === 2) return Float64Array.of(d[0], d[0]);
  if (n === 3) {
    const bend = (d[1] - d[0]) / (h[0] + h[1]);
    return Float64Array.of(d[0] - bend * h[0], d[0] + bend * h[0], d[1] + bend * h[1]);
  }
  const lower = new Float64Array(n), middle = new Float64Array(n), upper = new Float64Array(n);
  const right = new Float64Array(n);
  for (let i = 1; i < n - 1; i++) {
    lower[i] = h[i];
    middle[i] = 2 * (h[i - 1] + h[i]);
    upper[i] = h[i - 1];
    right[i] = 3 * (h[i] * d[i - 1] + h[i - 1] * d[i]);
  }
  const a = h[0] + h[1], b = h[n - 2] + h[n - 3];
  middle[0] = h[1];
  upper[0] = a;
  right[0] = ((h[0] + 2 * a) * h[1] * d[0] + h[0] * h[0] * d[1]) / a;
  middle[n - 1] = h[n - 3];
  lower[n - 1] = b;
  right[n - 1] = (h[n - 2] * h[n - 2] * d[n - 3] + (2 * b + h[n - 2]) * h[n - 3] * d[n - 2]) / b;
  return tridiagonal(lower, middle, upper, right);
}

/** Bézier cubics of a closed curve: k arrays [x0, y0, x1, y1, x2, y2, x3, y3]. */
export function beziers(points, corners) {
  const k = points.length;
  const chord = points.map((p, i) => {
    const q = points[(i + 1) % k];
    return Math.max(Math.hypot(q[0] - p[0], q[1] - p[1]), 1e-6);
  });
  const starts = [];
  corners.forEach((corner, i) => { if (corner) starts.push(i); });
  const pieces = new Array(k);
  const put = (i, from, to, h, m0, m1) => {
    pieces[i] = [from[0], from[1], from[0] + m0[0] * h / 3, from[1] + m0[1] * h / 3,
      to[0] - m1[0] * h / 3, to[1] - m1[1] * h / 3, to[0], to[1]];
  };
  if (!starts.length) {
    const mx = roundSlopes(points.map((p) => p[0]), chord), my = roundSlopes(points.map((p) => p[1]), chord);
    for (let i = 0; i < k; i++) {
      const j = (i + 1) % k;
      put(i, points[i], points[j], chord[i], [mx[i], my[i]], [mx[j], my[j]]);
    }
    return pieces;
  }
  starts.forEach((first, s) => {
    const last = s + 1 < starts.length ? starts[s + 1] : starts[0] + k;
    const which = [];
    for (let i = first; i <= last; i++) which.push(i % k);
    const stretch = which.map((i) => points[i]);
    const h = which.slice(0, -1).map((i) => chord[i]);
    const mx = openSlopes(stretch.map((p) => p[0]), h), my = openSlopes(stretch.map((p) => p[1]), h);
    for (let i = 0; i + 1 < which.length; i++) {
      put(which[i], stretch[i], stretch[i + 1], h[i], [mx[i], my[i]], [mx[i + 1], my[i + 1]]);
    }
  });
  return pieces;
}

/** The point at share t of a Bézier piece. */
export function at(piece, t) {
  const s = 1 - t, a = s * s * s, b = 3 * s * s * t, c = 3 * s * t * t, d = t * t * t;
  return [a * piece[0] + b * piece[2] + c * piece[4] + d * piece[6],
    a * piece[1] + b * piece[3] + c * piece[5] + d * piece[7]];
}

/** A closed curve with its pieces, and a polyline for measuring and hitting. */
export class Curve {
  constructor(points, corners) {
    this.points = points;
    this.corners = corners;
    this.pieces = beziers(points, corners);
  }

  /** Points along the curve with the piece and share each lies at. */
  get line() {
    if (this._line) return this._line;
    const line = [];
    this.pieces.forEach((piece, i) => {
      const steps = Math.min(24, Math.max(4, Math.ceil(Math.hypot(piece[6] - piece[0], piece[7] - piece[1]) / 2)));
      for (let s = 0; s < steps; s++) {
        const p = at(piece, s / steps);
        line.push({ x: p[0], y: p[1], piece: i, t: s / steps, next: (s + 1) / steps });
      }
    });
    let along = 0;
    line.forEach((p, i) => {
      p.along = along;
      const q = line[(i + 1) % line.length];
      along += Math.hypot(q.x - p.x, q.y - p.y);
    });
    this.length = along;
    this._line = line;
    return line;
  }

  /** The place on the curve nearest to (x, y): {x, y, piece, t, along, away}. */
  nearest(x, y) {
    const line = this.line;
    let best = { away: Infinity };
    for (let i = 0; i < line.length; i++) {
      const a = line[i], b = line[(i + 1) % line.length];
      const dx = b.x - a.x, dy = b.y - a.y;
      const share = Math.min(1, Math.max(0, ((x - a.x) * dx + (y - a.y) * dy) / (dx * dx + dy * dy || 1)));
      const px = a.x + share * dx, py = a.y + share * dy;
      const away = Math.hypot(px - x, py - y);
      if (away < best.away) {
        best = { x: px, y: py, piece: a.piece, t: a.t + share * (a.next - a.t), away,
          along: a.along + share * Math.hypot(dx, dy) };
      }
    }
    return best;
  }

  /** Distance along the curve of point i. */
  alongOf(i) {
    return this.line.find((p) => p.piece === i && p.t === 0).along;
  }

  /** The first spot where the curve crosses itself, or null. Neighbouring chords are not counted. */
  crossing() {
    const line = this.line, n = line.length;
    const order = line.map((_, i) => i).sort((i, j) => lowest(i) - lowest(j));
    function lowest(i) { return Math.min(line[i].y, line[(i + 1) % n].y); }
    for (let a = 0; a < n; a++) {
      const i = order[a], p = line[i], q = line[(i + 1) % n];
      const high = Math.max(p.y, q.y);
      for (let b = a + 1; b < n; b++) {
        const j = order[b];
        if (lowest(j) > high) break;
        const gap = Math.abs(i - j);
        if (gap < 2 || gap > n - 2) continue;
        const spot = meeting(p, q, line[j], line[(j + 1) % n]);
        if (spot) return spot;
      }
    }
    return null;
  }
}

function meeting(a, b, c, d) {
  const r = [b.x - a.x, b.y - a.y], s = [d.x - c.x, d.y - c.y];
  const cross = r[0] * s[1] - r[1] * s[0];
  if (Math.abs(cross) < 1e-12) return null;
  const t = ((c.x - a.x) * s[1] - (c.y - a.y) * s[0]) / cross;
  const u = ((c.x - a.x) * r[1] - (c.y - a.y) * r[0]) / cross;
  return t > 0 && t < 1 && u > 0 && u < 1 ? [a.x + t * r[0], a.y + t * r[1]] : null;
}
