// The row of tools and, below it, what the chosen tool offers.

import { button, el, toggle } from "./dom.js";
import { lineName, rings } from "./edits.js";

const ICONS = {
  points: "M4 18c3-11 13-11 16 0M4 18h.01M12 9.800h.01M20 18h.01", pull: "M3 17c5 0 5-10 9-10s4 10 9 10M12 7V2.500m-2.500 2.500L12 2.500 14.500 5",
  redraw: "M4 20l1-4L16 5l3 3L8 19l-4 1zM14 7l3 3", marks: "M12 2v20M6 8h12M8 16h8", card: "M3 6.500h18v11H3zM3 10.500h18",
};
const TOOLS = [
  ["points", "Points", "Drag a point; click the line to add one"],
  ["pull", "Pull", "Drag the line softly"],
  ["redraw", "Redraw", "Draw a stretch, or click along the edge"],
  ["marks", "Landmarks", "Move the axis, the butt line and the landmarks"],
  ["card", "Card", "Move the card's corners: everything re-scales"],
];
export const toolNames = TOOLS.map(([name]) => name);

function icon(name) {
  const svg = document.createElementNS("http://www.w3.org/2000/svg", "svg");
  svg.setAttribute("viewBox", "0 0 24 24");
  svg.setAttribute("aria-hidden", "true");
  const path = document.createElementNS(svg.namespaceURI, "path");
  path.setAttribute("d", ICONS[name]);
  svg.append(path);
  return svg;
}

export class Controls {
  constructor({ tools, options, looks, surface }, app, act) {
    this.surface = surface;
    this.app = app;
    this.act = act;
    this.options = options;
    this.looks = looks;
    this.buttons = TOOLS.map(([name, words, title], i) => {
      const node = el("button", { type: "button", role: "radio", "aria-checked": "false", title: `${title} (${i + 1})`, tabindex: "-1",
        on: () => act.tool(i) }, icon(name), el("span", {}, words));
      node.addEventListener("keydown", (event) => {
        const by = { ArrowRight: 1, ArrowDown: 1, ArrowLeft: -1, ArrowUp: -1 }[event.key];
        if (!by) return;
        event.preventDefault();
        const next = (i + by + TOOLS.length) % TOOLS.length;
        act.tool(next);
        this.buttons[next].focus();
      });
      return node;
    });
    tools.replaceChildren(...this.buttons);
  }

  chosen(index) {
    this.buttons.forEach((node, i) => {
      node.setAttribute("aria-checked", String(i === index));
      node.tabIndex = i === index ? 0 : -1;
    });
    this.refresh();
  }

  refresh() {
    const { app, act } = this, name = app.tool?.name;
    const looking = app.isFlickering ? "Flicker" : app.before ? "Before" : null;
    const hint = (words) => el("p", { class: "hint" }, looking ? `While ${looking} is on, dragging moves the view, and so do the arrow keys.` : words);
    const both = () => toggle("Both sides", app.both, act.both, { "aria-keyshortcuts": "B", title: "Whatever is done on one side is done on the other (B)" });
    const view = [
      toggle("Before", app.before, act.before, { "aria-keyshortcuts": "V", title: "The automatic outline (V)" }),
      toggle("Flicker", app.isFlickering, act.flicker, { "aria-keyshortcuts": "W", title: "Before and after in turn (W)" }),
    ];
    const mirror = [
      button("Right side onto left", () => act.mirror("right")), button("Left side onto right", () => act.mirror("left")),
    ];
    const offers = {
      points: () => [both(), ...mirror, hint("Drag a point. Click the line to add one.")],
      pull: () => [both(), this._reach(), hint("Drag anywhere on the line.")],
      redraw: () => this._redraw(hint),
      marks: () => [hint("Drag the ends of the axis, the butt line or a landmark.")],
      card: () => (app.edit && !app.sheet?.card) ? [hint("The scale is from a tape measure: there is no card to move.")] : [
        button("Snap to the card's edges", () => app.tool.settle(app.tool.card, true)),
        hint(`Drag a corner to where the card's straight sides would meet.${cardWords(app.sheet?.cards)}`)],
    };
    this._offer(this.options, offers[name]?.() ?? []);
    this._offer(this.looks, app.edit && app.sheet?.automatic ? view : []);
  }

  /** Put new controls in place of old ones; the focus stays on its own, and goes to the drawing from one that is gone. */
  _offer(place, nodes) {
    const held = place.contains(document.activeElement) ? nameOf(document.activeElement) : null;
    place.replaceChildren(...nodes.filter((node) => node !== null));
    if (held === null) return;
    const same = [...place.querySelectorAll("button, input, select")].find((node) => nameOf(node) === held);
    (same ?? this.surface).focus();
  }

  /** Which line a redrawn stretch goes into, where there are several. */
  _line() {
    const { app } = this;
    const choice = el("select", { "aria-label": "Line to redraw" }, ...rings(app.edit).map((_, i) => el("option", { value: String(i) }, lineName(i))));
    choice.value = String(app.ring);
    choice.addEventListener("change", () => app.choose(Number(choice.value), -1));
    return el("label", { class: "reach" }, el("span", {}, "Redraws"), choice);
  }

  _reach() {
    const { app } = this;
    const value = el("output", {}, `${app.reach} mm`);
    const slider = el("input", { type: "range", min: "5", max: "150", step: "5", value: String(app.reach), "aria-label": "Reach in mm" });
    slider.addEventListener("input", () => {
      app.reach = slider.valueAsNumber;
      value.textContent = `${app.reach} mm`;
      app.drawNow();
    });
    return el("label", { class: "reach" }, el("span", {}, "Reach"), slider, value);
  }

  _redraw(hint) {
    const { app, act } = this, { tool } = app;
    const snap = toggle("Snap to edges", app.snap, act.snap, { "aria-keyshortcuts": "S", title: "The line moves to the strongest edge near it (S)" });
    const line = app.edit && !tool.newOpening && rings(app.edit).length > 1 ? this._line() : null;
    if (tool.isDrawing) {
      const closes = tool.isClosing;
      return [line, snap, button(closes ? "Close the line" : "Finish", () => tool.finish(null, closes), { class: "main-action" }),
        button("Back one spot", () => tool.back()), button("Drop", () => { tool.newOpening = false; tool.clear(); app.drawNow(); }),
        hint(`${tool.anchors.length} ${tool.anchors.length === 1 ? "spot" : "spots"} set`)];
    }
    if (tool.closedOnly) return [snap, hint("Click along the racquet's edge all the way round; the line follows between clicks.")];
    return [line, snap, toggle("New opening", tool.newOpening, (on) => { tool.newOpening = on; this.refresh(); }),
      hint(tool.newOpening ? "Draw round the opening, or click along its edge." : "Draw along a stretch, or click from spot to spot along the edge.")];
  }
}

const nameOf = (node) => node.getAttribute("aria-label") ?? node.textContent;

/** What happens to the other cards of a photo once this one is moved. */
function cardWords(cards) {
  return cards > 1 ? ` The scale is from ${cards} cards now; once you move this one, it is from this one alone.` : "";
}
