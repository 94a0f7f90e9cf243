// The photo's tiles: the coarse ones always there, the fine ones fetched where the view is.

const KEPT = 160;

export class Tiles {
  constructor(sheet, changed) {
    this.sheet = sheet;
    this.changed = changed;
    this.images = new Map();
    this.coarsest = sheet.levels - 1;
    this._each(this.coarsest, null, () => {});
  }

  levelFor(scale) {
    const wanted = Math.log2(1 / (scale * this.sheet.mmPerPx));
    return Math.min(this.coarsest, Math.max(0, Math.floor(wanted + 0.35)));
  }

  /** Draw what the view shows, from coarse to fine, into a context scaled to device pixels. */
  draw(ctx, view, ratio, fetchFine = true) {
    const level = this.levelFor(view.scale * ratio);
    const [left, top] = view.toSheet(0, 0), [right, bottom] = view.toSheet(view.width, view.height);
    const box = [left, bottom, right, top];
    ctx.imageSmoothingEnabled = view.scale * this.sheet.mmPerPx * ratio < 3;
    for (let l = this.coarsest; l >= level; l--) {
      if (l > level + 2 && l < this.coarsest) continue;
      this._each(l, box, (image, x, y, size) => {
        const [px, py] = view.toScreen(x, y);
        const side = size * view.scale;
        // Whole device pixels, so that neighbours meet without a seam.
        const x0 = Math.round(px * ratio), y0 = Math.round(py * ratio);
        const x1 = Math.round((px + side) * ratio), y1 = Math.round((py + side) * ratio);
        ctx.drawImage(image, x0, y0, x1 - x0, y1 - y0);
      }, l === level ? fetchFine : l === this.coarsest);
    }
  }

  _each(level, box, use, fetch = true) {
    const { left, top, right, bottom, mmPerPx, tilePx, key } = this.sheet;
    const size = tilePx * mmPerPx * 2 ** level;
    const columns = Math.ceil((right - left) / size), rows = Math.ceil((top - bottom) / size);
    const [x0, y0, x1, y1] = box ?? [left, bottom, right, top];
    const c0 = Math.max(0, Math.floor((x0 - left) / size)), c1 = Math.min(columns - 1, Math.floor((x1 - left) / size));
    const r0 = Math.max(0, Math.floor((top - y1) / size)), r1 = Math.min(rows - 1, Math.floor((top - y0) / size));
    for (let row = r0; row <= r1; row++) {
      for (let column = c0; column <= c1; column++) {
        const image = this._image(`tiles/${key}/${level}/${column}/${row}.jpg`, fetch);
        if (image) use(image, left + column * size, top - row * size, size);
      }
    }
  }

  _image(address, fetch) {
    const known = this.images.get(address);
    if (known) {
      this.images.delete(address);
      this.images.set(address, known);
      return known.complete && known.naturalWidth ? known : null;
    }
    if (!fetch) return null;
    const image = new Image();
    image.decoding = "async";
    image.onload = () => this.changed();
    image.src = address;
    this.images.set(address, image);
    if (this.images.size > KEPT) this.images.delete(this.images.keys().next().value);
    return null;
  }
}
