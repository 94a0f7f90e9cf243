// Where the sheet is on the screen: mm to CSS pixels, y up on the sheet and down on the screen.

const LEAST = 0.2, MARGIN = 28;

export class View {
  constructor() {
    this.width = 100;
    this.height = 100;
    this.scale = 1;
    this.x = 0;
    this.y = 0;
    this.most = 100;
  }

  resize(width, height) {
    this.width = width;
    this.height = height;
  }

  toScreen(x, y) {
    return [(x - this.x) * this.scale + this.width / 2, (this.y - y) * this.scale + this.height / 2];
  }

  toSheet(px, py) {
    return [(px - this.width / 2) / this.scale + this.x, this.y - (py - this.height / 2) / this.scale];
  }

  /** Show a box of the sheet whole, so many pixels above the lower edge. */
  fit([left, bottom, right, top], below = MARGIN) {
    const wide = Math.max(this.width - 2 * MARGIN, 40), high = Math.max(this.height - MARGIN - below, 40);
    this.scale = this._kept(Math.min(wide / (right - left), high / (top - bottom)));
    this.x = (left + right) / 2;
    this.y = (bottom + top) / 2 - (below - MARGIN) / 2 / this.scale;
  }

  /** Zoom by a factor and keep the spot under the pointer where it is. */
  zoom(factor, px = this.width / 2, py = this.height / 2) {
    const [x, y] = this.toSheet(px, py);
    this.scale = this._kept(this.scale * factor);
    const [nx, ny] = this.toSheet(px, py);
    this.x += x - nx;
    this.y += y - ny;
  }

  pan(dx, dy) {
    this.x -= dx / this.scale;
    this.y += dy / this.scale;
  }

  /** Bring a spot into view, and the middle of it if it is not there yet. */
  show(x, y, scale = this.scale) {
    const [px, py] = this.toScreen(x, y);
    const inside = px > 60 && py > 60 && px < this.width - 60 && py < this.height - 60;
    if (inside && scale === this.scale) return;
    this.scale = this._kept(scale);
    this.x = x;
    this.y = y;
  }

  copy() {
    return Object.assign(new View(), this);
  }

  _kept(scale) {
    return Math.min(this.most, Math.max(LEAST, scale));
  }
}
