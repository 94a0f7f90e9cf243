// The panel: what the drawing means, what is in doubt, and everything chosen as numbers to type.

import { button, el, numberField } from "./dom.js";
import { lineName, rings, withoutOpening } from "./edits.js";

const signed = (value, digits) => (Math.abs(value) < 0.5 * 10 ** -digits ? "same" : `${value > 0 ? "+" : "−"}${Math.abs(value).toFixed(digits)}`);

/** Hundredths, and no minus before a zero. */
const fixed = (value) => (Math.abs(value) < 0.005 ? 0 : value).toFixed(2);

export class Panel {
  constructor(root, app) {
    this.app = app;
    this.figures = el("section", { "aria-labelledby": "h-figures" },
      el("h2", { id: "h-figures" }, "What it comes to"),
      this.note = el("p", { class: "hint" }),
      this.wrong = el("ul", { class: "wrong", "aria-label": "What is wrong", hidden: true }),
      this.table = el("table", { class: "figures" }, el("thead", {}, el("tr", {},
        el("th", { scope: "col" }, "figure"), el("th", { scope: "col" }, "value"), el("th", { scope: "col" }, "± sd"),
        this.changeHead = el("th", { scope: "col" }, "change"))), this.rows = el("tbody")),
      this.notes = el("ul", { class: "notes", "aria-label": "Notes" }));
    this.doubts = el("section", { "aria-labelledby": "h-doubts" },
      el("h2", { id: "h-doubts" }, "In doubt"), this.doubtList = el("ul", { class: "doubts" }));
    this.chosen = this._chosen();
    this.marks = this._marks();
    this.keys = el("details", { class: "keys" }, el("summary", {}, "Keys"), keyTable());
    root.replaceChildren(this.figures, this.doubts, this.chosen, this.marks, this.keys);
  }

  weighed(outcome) {
    this.wrong.hidden = outcome.ok;
    this.wrong.replaceChildren(...outcome.problems.map((problem) => el("li", {},
      el("span", {}, problem.words), problem.at ? button("Show", () => this._show(problem.at)) : null)));
    this.figures.classList.toggle("stale", !outcome.ok);
    if (!outcome.ok) {
      this.note.textContent = "The figures are those of the last sound drawing.";
      return;
    }
    this.note.textContent = outcome.fromScratch ? "Marked by hand from the start." : "Change is against the automatic outline.";
    this.changeHead.hidden = outcome.fromScratch;
    this.rows.replaceChildren(...[...outcome.sizes, ...outcome.figures].map((row, i) => el("tr",
      { class: i === outcome.sizes.length - 1 ? "last-size" : "" },
      el("th", { scope: "row" }, row.name),
      el("td", { class: "value" }, row.value.toFixed(row.digits), el("span", { class: "unit" }, ` ${row.unit}`)),
      el("td", {}, row.sd.toFixed(row.digits)),
      row.change === null ? null : changeCell(row))));
    this.notes.replaceChildren(...outcome.notes.map((words) => el("li", {}, words)));
    this._doubts(outcome);
  }

  _doubts({ doubts, fromScratch }) {
    const { app } = this;
    if (!doubts.length) {
      this.doubtList.replaceChildren(el("li", { class: "hint" }, fromScratch
        ? "No stretch was checked: the outline was marked by hand." : "Nothing: every stretch showed a clear edge."));
      return;
    }
    const held = this.doubtList.contains(document.activeElement) ? document.activeElement.closest("li").dataset.number : null;
    const why = (doubt) => (!doubt.settled ? doubt.reason : doubt.byHand ? "settled by hand" : "no longer in doubt");
    const row = (doubt, place, answer) => el("li", { class: doubt.settled ? "settled" : "", "data-number": String(doubts.indexOf(doubt)) },
      place, el("span", { class: "why" }, why(doubt)), doubt.settled ? null : answer);
    const own = doubts.filter((doubt) => !doubt.rest).map((doubt) => row(doubt,
      button(`${doubt.side}, ${doubt.length.toFixed(0)} mm`, () => app.showDoubt(doubts.indexOf(doubt)), { class: "link" }),
      button("Right as it is", () => app.hooks.declare(doubts.indexOf(doubt)))));
    const rest = doubts.filter((doubt) => doubt.rest);
    const restLength = rest.reduce((sum, doubt) => sum + doubt.length, 0);
    this.doubtList.replaceChildren(...own,
      ...rest.slice(0, 1).map((doubt) => row(doubt, el("span", {}, `All the rest, ${restLength.toFixed(0)} mm`), null)));
    this.refreshDoubt();
    if (held !== null) this.doubtList.querySelector(`[data-number="${held}"] button`)?.focus();
  }

  /** Show which doubtful stretch was gone to. */
  refreshDoubt() {
    for (const row of this.doubtList.children) {
      const is = row.dataset.number !== undefined && Number(row.dataset.number) === this.app.doubt;
      row.querySelector("button")?.setAttribute("aria-current", String(is));
    }
  }

  _chosen() {
    const { app } = this;
    const set = (axis) => (value) => app.hooks.placePoint(axis, value);
    this.x = numberField("Across", "mm", 0.1, set(0), app.hooks.refused);
    this.y = numberField("Up", "mm", 0.1, set(1), app.hooks.refused);
    this.chosenName = el("p", { class: "hint" });
    this.corner = button("Make a corner", () => app.hooks.pointTool((tool) => tool.turn()));
    this.pointButtons = el("div", { class: "row" },
      button("Previous", () => app.step(-1)), button("Next", () => app.step(1)),
      button("Add after", () => app.hooks.pointTool((tool) => tool.add())), this.corner,
      button("Delete", () => app.hooks.pointTool((tool) => tool.remove())));
    this.dropRing = button("Delete this opening", () => {
      const ring = app.ring;
      app.ring = 0;
      app.point = -1;
      app.commit(withoutOpening(app.edit, ring));
      app.say("Opening deleted.");
    });
    this.ringChoice = el("select", { "aria-label": "Line" });
    this.ringChoice.addEventListener("change", () => app.choose(Number(this.ringChoice.value), -1));
    return el("section", { "aria-labelledby": "h-point" }, el("h2", { id: "h-point" }, "Point"),
      el("div", { class: "row" }, this.ringChoice, this.dropRing), this.chosenName,
      el("div", { class: "pair" }, this.x.node, this.y.node), this.pointButtons);
  }

  refreshChosen() {
    const { app } = this;
    if (!app.edit) return;
    const all = rings(app.edit);
    if (this.ringChoice.options.length !== all.length) {
      this.ringChoice.replaceChildren(...all.map((_, i) => el("option", { value: String(i) }, lineName(i))));
    }
    this.ringChoice.value = String(app.ring);
    this.ringChoice.hidden = all.length < 2;
    this.dropRing.hidden = app.ring === 0;
    const said = all[app.ring], p = said.points[app.point];
    for (const input of [this.x.input, this.y.input]) input.disabled = !p;
    this.chosenName.textContent = p ? `${said.corners[app.point] ? "Corner" : "Point"} ${app.point + 1} of ${said.points.length}`
      : `${said.points.length} points; none chosen`;
    this.x.show(p ? fixed(p[0]) : "");
    this.y.show(p ? fixed(p[1]) : "");
    this.corner.textContent = p && said.corners[app.point] ? "Make smooth" : "Make a corner";
    for (const node of this.pointButtons.children) {
      if (["Delete", "Make a corner", "Make smooth"].includes(node.textContent)) node.disabled = !p;
    }
    this._refreshMarks();
  }

  _marks() {
    const { app } = this;
    const change = (key) => (value) => app.hooks.placeMark(key, value);
    this.fields = {
      butt: numberField("Butt line", "mm", 0.1, change("butt"), app.hooks.refused),
      handle: numberField("Handle top", "mm", 0.5, change("handle"), app.hooks.refused),
      throat: numberField("Throat top", "mm", 0.5, change("throat"), app.hooks.refused),
      low: numberField("Axis at the butt", "mm", 0.1, change("low"), app.hooks.refused),
      high: numberField("Axis at the tip", "mm", 0.1, change("high"), app.hooks.refused),
    };
    this.seenWords = el("p", { class: "hint" });
    this.buttBack = button("Butt line at the lowest point", () => app.commit({ ...app.edit, butt_mm: null }));
    return el("section", { "aria-labelledby": "h-marks" }, el("h2", { id: "h-marks" }, "Axis and landmarks"),
      el("div", { class: "pair" }, ...Object.values(this.fields).map((field) => field.node)), this.seenWords, this.buttBack);
  }

  _refreshMarks() {
    const { app } = this, { edit } = app;
    const values = {
      butt: edit.butt_mm ?? app.outcome?.butt ?? 0, handle: edit.handle_top_mm, throat: edit.throat_top_mm,
      low: edit.axis.at_butt_mm, high: edit.axis.at_tip_mm,
    };
    for (const [key, field] of Object.entries(this.fields)) {
      field.node.hidden = values[key] === null;
      if (values[key] !== null && document.activeElement !== field.input) field.show(fixed(values[key]));
    }
    const shift = Math.abs(app.outcome?.buttShift ?? 0);
    this.seenWords.hidden = shift < 0.5;
    this.seenWords.textContent = `The rim stands nearer to the camera than the racquet's middle, so it is seen a little outside: at the butt by ${shift.toFixed(1)} mm. The butt line is drawn where it is seen; lengths and figures leave this out.`;
    this.buttBack.hidden = edit.butt_mm === null;
  }

  _show([x, y]) {
    const { app } = this;
    app.view.show(x, y, Math.max(app.view.scale, 6));
    app.drawNow(true);
  }
}

function changeCell(row) {
  const words = signed(row.change, row.digits);
  return el("td", { class: words === "same" ? "change none" : "change" }, words);
}

function keyTable() {
  const keys = [
    ["1 to 5", "points, pull, redraw, landmarks, card"], ["N, P", "next, previous point or handle"],
    ["O", "next line: outline, openings"], ["arrows", "move by 0.1 mm; with Shift 1 mm, with Ctrl 10 mm"],
    ["Enter", "add a point; set a spot while redrawing"], ["Delete", "delete the point"],
    ["K", "corner or smooth"], ["F", "finish the line"], ["Esc", "drop the line"],
    ["[ ]", "reach of a pull"], ["D, Shift D", "next, previous stretch in doubt"], ["Y", "declare it right"],
    ["S", "snap to edges"], ["B", "both sides at once"], ["V", "before; again: after"], ["W", "flicker"],
    ["+ − 0", "zoom in, out, whole"], ["X", "zoom to pixels at the point"], ["Alt arrows", "move the view"],
    ["Ctrl Z, Ctrl Y", "undo, redo; of a line being drawn, its last spot"], ["Ctrl S", "save"],
  ];
  return el("table", {}, el("tbody", {}, ...keys.map(([key, does]) => el("tr", {},
    el("th", { scope: "row" }, ...key.split(", ").flatMap((k, i) => (i ? [", ", el("kbd", {}, k)] : [el("kbd", {}, k)]))),
    el("td", {}, does)))));
}
