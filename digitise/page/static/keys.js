// The keyboard: whatever the pointer can do, from the drawing itself.

const WAYS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] };
const PAN_PX = 60, MARKING_KEYS = ["n", "p", "+", "=", "-", "0", "x", " "];
const FIELDS = "input:not([type=checkbox]), select, textarea";

export function listenKeys(surface, app, act) {
  document.addEventListener("keydown", (event) => {
    const key = event.key.toLowerCase();
    if (!(event.ctrlKey || event.metaKey) || event.altKey) return;
    const typing = event.target.matches?.("input[type=number], input[type=text], textarea");
    if (key === "s") {
      settleField();
      act.save();
    }
    else if (typing) return;
    else if (key === "z" && !event.shiftKey) act.undo();
    else if (key === "y" || (key === "z" && event.shiftKey)) act.redo();
    else return;
    event.preventDefault();
  });

  document.addEventListener("keydown", (event) => {
    if (!app.sheet || event.defaultPrevented || !isOurs(event)) return;
    if (event.key === " ") app.spaceDown = true;
    if (handled(event)) event.preventDefault();
  });
  surface.addEventListener("keyup", (event) => { if (event.key === " ") app.spaceDown = false; });
  surface.addEventListener("blur", () => { app.spaceDown = false; });

  /** Keys that mean something before there is an outline. */
  function whileMarking(key) {
    return MARKING_KEYS.includes(key) || (key === "s" && app.tool?.name === "redraw");
  }

  /** Whether a key is meant for the drawing: not what a field, a button or the page itself makes of it. */
  function isOurs({ key, target }) {
    if (target === surface) return true;
    if (target.matches?.(FIELDS)) return false;
    if (key === " " || key === "Tab") return false;
    if (target !== document.body) return !(WAYS[key] || key === "Enter");
    return !(WAYS[key] || key === "Enter") || Boolean(app.tool?.focus()); // else arrows scroll the page
  }

  /** A number that is being typed counts as typed, as it does when the field is left. */
  function settleField() {
    const field = document.activeElement;
    if (!field?.matches("input[type=number]")) return;
    field.blur();
    field.focus();
  }

  function handled(event) {
    const way = WAYS[event.key];
    if (way && (event.altKey || app.isLooking)) {
      app.view.pan(-way[0] * PAN_PX, way[1] * PAN_PX);
      app.drawNow(true);
      return true;
    }
    if (way) {
      const size = event.ctrlKey || event.metaKey ? 10 : event.shiftKey ? 1 : 0.1;
      if (app.tool?.nudge?.(way[0] * size, way[1] * size) === false) act.choosePoint();
      return true;
    }
    if (event.ctrlKey || event.metaKey || event.altKey) return false;
    if (!app.isLooking && app.tool?.key(event)) return true;
    if (!app.edit && !whileMarking(event.key.toLowerCase())) return false;
    switch (event.key.toLowerCase()) {
      case "1": case "2": case "3": case "4": case "5": return act.tool(Number(event.key) - 1);
      case "n": return act.step(1);
      case "p": return act.step(-1);
      case "o": return act.nextRing();
      case "d": return act.doubt(event.shiftKey ? -1 : 1);
      case "y": return act.declare();
      case "s": return act.snap();
      case "b": return act.both();
      case "v": return act.before();
      case "w": return act.flicker();
      case "[": return act.reach(-5);
      case "]": return act.reach(5);
      case "+": case "=": return act.zoom(1.35);
      case "-": return act.zoom(1 / 1.35);
      case "0": return act.fit();
      case "x": return act.pixels();
      case " ": return true;
      default: return false;
    }
  }
}
