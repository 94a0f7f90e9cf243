// Mouse, pen and fingers on the drawing: one finger or button uses the tool, two fingers or the wheel the view.

const GRIP_PX = { mouse: 11, pen: 16, touch: 26 };

export function listen(surface, app) {
  const down = new Map();
  let panning = null, pinch = null;

  const spot = (event) => {
    const box = surface.getBoundingClientRect();
    const px = event.clientX - box.left, py = event.clientY - box.top;
    const [x, y] = app.view.toSheet(px, py);
    return { px, py, x, y, grip: GRIP_PX[event.pointerType] ?? GRIP_PX.mouse };
  };

  surface.addEventListener("pointerdown", (event) => {
    if (!app.sheet) return;
    surface.focus({ preventScroll: true });
    surface.setPointerCapture(event.pointerId);
    const pointer = spot(event);
    app.pointer = pointer;
    down.set(event.pointerId, pointer);
    if (down.size === 2) {
      app.tool?.interrupted();
      app.shown = null;
      panning = null;
      const [a, b] = [...down.values()];
      pinch = { away: Math.hypot(a.px - b.px, a.py - b.py), px: (a.px + b.px) / 2, py: (a.py + b.py) / 2 };
      app.drawNow();
      return;
    }
    if (down.size > 2) return;
    const shift = event.button === 1 || event.button === 2 || app.spaceDown;
    if (shift || app.isLooking || !app.tool?.down(pointer)) panning = pointer;
    surface.classList.toggle("panning", Boolean(panning));
  });

  surface.addEventListener("pointermove", (event) => {
    if (!app.sheet) return;
    const pointer = spot(event);
    app.pointer = pointer;
    if (pinch && down.has(event.pointerId)) {
      down.set(event.pointerId, pointer);
      const [a, b] = [...down.values()];
      const away = Math.hypot(a.px - b.px, a.py - b.py), px = (a.px + b.px) / 2, py = (a.py + b.py) / 2;
      app.view.pan(px - pinch.px, py - pinch.py);
      app.view.zoom(away / Math.max(pinch.away, 1), px, py);
      pinch = { away, px, py };
      app.drawNow(true);
      return;
    }
    if (panning && down.has(event.pointerId)) {
      app.view.pan(pointer.px - panning.px, pointer.py - panning.py);
      panning = pointer;
      app.drawNow(true);
      return;
    }
    if (down.has(event.pointerId)) {
      app.tool?.move(pointer);
      return;
    }
    app.hover = pointer;
    app.hooks.hovered(pointer);
    app.tool?.hovered?.([pointer.x, pointer.y]);
    if (app.tool?.name === "pull") app.drawNow();
  });

  const ended = (event) => {
    const had = down.delete(event.pointerId);
    if (pinch) {
      if (!down.size) pinch = null;
      return;
    }
    if (!had) return;
    const pointer = spot(event);
    if (panning) panning = null;
    else if (event.type === "pointercancel") { app.tool?.interrupted(); app.shown = null; }
    else app.tool?.up(pointer);
    surface.classList.remove("panning");
    app.drawNow();
  };
  surface.addEventListener("pointerup", ended);
  surface.addEventListener("pointercancel", ended);
  surface.addEventListener("pointerleave", () => { app.hover = null; app.drawNow(); });
  surface.addEventListener("contextmenu", (event) => event.preventDefault());
  surface.addEventListener("wheel", (event) => {
    if (!app.sheet) return;
    event.preventDefault();
    const pointer = spot(event);
    const lines = event.deltaMode === 1 ? 16 : 1;
    app.view.zoom(Math.exp(-Math.max(-240, Math.min(240, event.deltaY * lines)) * 0.0022), pointer.px, pointer.py);
    app.drawNow(true);
  }, { passive: false });
}
