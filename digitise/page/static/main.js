// The page: builds the parts, wires them, and keeps the person told.

import { get, leave, post, windowName } from "./api.js";
import { App } from "./app.js";
import { CardTool } from "./card.js";
import { Controls, toolNames } from "./controls.js";
import { button } from "./dom.js";
import { axisFrame, movedPoint, rings } from "./edits.js";
import { History } from "./history.js";
import { listenKeys } from "./keys.js";
import { beginMarking } from "./marking.js";
import { Panel } from "./panel.js";
import { listen } from "./pointer.js";
import { RedrawTool } from "./redraw.js";
import { MarksTool, PointsTool, PullTool } from "./tools.js";

const byId = (id) => document.getElementById(id);
const FLICKER_MS = 450, PING_MS = 4000;
const FAULT = "fault", CONFLICT = "conflict", OTHERS = "others", TOLD = "told"; // what a banner is about
const KEPT = ", kept as a draft";
const calm = matchMedia("(prefers-reduced-motion: reduce)");

const app = new App({ refused, say, tell, stepped, weighed, chosen, busy, failed, hovered, declare, placePoint, placeMark, pointTool });
const surface = byId("drawing");
let panel = null, tools = [], draftWords = "", taken = 0;

const act = {
  tool(i) {
    if (!tools.length || app.tool === tools[i]) return true;
    app.tool?.leave();
    app.shown = null;
    app.tool = tools[i];
    controls.chosen(i);
    app.drawNow();
    return true;
  },
  step: (by) => (app.tool?.step ? app.tool.step(by) : app.step(by), true),
  choosePoint: () => app.step(1),
  nextRing: () => (app.nextRing(), true),
  doubt: (by) => (app.nextDoubt(by), true),
  declare: () => {
    if (app.chosenDoubt >= 0) declare(app.doubt);
    else if (app.openDoubts().length) say("Go to a stretch first, with D or by its name: Y then declares it right.");
    else say("No stretch of the outline is in doubt.");
    return true;
  },
  snap: () => switched("snap", "Snap to edges"),
  both: () => switched("both", "Both sides"),
  before: () => {
    if (!isComparable()) return true;
    stopFlicker();
    switched("before", "Before");
    if (app.before) say("Before on: dragging moves the view.");
    return true;
  },
  flicker: () => {
    if (!isComparable()) return true;
    if (app.isFlickering) {
      stopFlicker();
      say("Flicker off");
    } else if (calm.matches) say("Flicker is off, as your system asks for little motion. Use Before instead.");
    else {
      app.isFlickering = true;
      app.flicker = setInterval(() => { app.before = !app.before; app.drawNow(); }, FLICKER_MS);
      controls.refresh();
      say("Flicker on: dragging moves the view.");
    }
    return true;
  },
  reach: (by) => {
    app.reach = Math.min(150, Math.max(5, app.reach + by));
    controls.refresh();
    say(`Reach ${app.reach} mm`);
    app.drawNow();
    return true;
  },
  zoom: (factor) => {
    const spot = app.tool?.focus() ?? null;
    const [px, py] = spot ? app.view.toScreen(...spot) : [app.view.width / 2, app.view.height / 2];
    app.view.zoom(factor, px, py);
    app.drawNow(true);
    return true;
  },
  fit: () => (app.fit(), app.drawNow(true), true),
  pixels: () => {
    const spot = app.tool?.focus() ?? [app.view.x, app.view.y];
    app.view.show(...spot, 16 / app.sheet.mmPerPx);
    app.drawNow(true);
    return true;
  },
  mirror: (keep) => app.busy(async () => {
    const answer = await post("mirror", { edit: app.edit, keep });
    app.choose(app.ring, -1);
    await app.commit(answer.edit);
    say(keep === "right" ? "The left side is now the right one's mirror image." : "The right side is now the left one's mirror image.");
  }),
  undo: () => app.undo(),
  redo: () => app.redo(),
  save,
};
const controls = new Controls({ tools: byId("tools"), options: byId("options"), looks: byId("looks"), surface }, app, act);
controls.hideTools = () => {
  byId("tools").hidden = true;
  for (const id of ["undo", "redo", "save"]) byId(id).hidden = true;
  controls.refresh();
};
app.toolChanged = () => {
  controls.refresh();
  if (app.history) steps();
};

/** Whether there is an automatic outline; says so if there is none. */
function isComparable() {
  if (app.sheet.automatic) return true;
  say("It was marked by hand from the start: there is no automatic outline to compare with.");
  return false;
}

function switched(name, words) {
  app[name] = !app[name];
  controls.refresh();
  say(`${words} ${app[name] ? "on" : "off"}`);
  app.drawNow();
  return true;
}

function stopFlicker() {
  clearInterval(app.flicker);
  if (app.isFlickering) app.before = false;
  app.isFlickering = false;
  controls.refresh();
  app.drawNow();
}

async function begin() {
  const start = await get(`start?window=${windowName}`);
  document.title = `${start.name}: outline by hand`;
  byId("title").textContent = start.name;
  if (start.stage === "mark") {
    byId("state").textContent = `${start.photo}, nothing marked yet`;
    beginMarking(start, app, controls, byId("panel"));
    return;
  }
  app.history = new History(start, drafted);
  taken = start.taken;
  draftWords = KEPT; // whatever the program begins with and has not saved, it has from a draft
  tools = [new PointsTool(app), new PullTool(app), new RedrawTool(app), new MarksTool(app), new CardTool(app)];
  tools.forEach((tool, i) => { tool.name = toolNames[i]; });
  app.useSheet(start.sheet);
  app.addSheet(start.sheet, app.edit);
  panel = new Panel(byId("panel"), app);
  app.fit();
  act.tool(0);
  app.take(start.outcome);
  stepped();
  app.drawNow(true);
  if (start.told) banner(start.told, [["Close", hideBanner]], TOLD);
  else if (start.others) warnOfOthers();
  setInterval(ping, PING_MS);
  document.documentElement.dataset.ready = "yes";
}

function steps() {
  const held = document.activeElement;
  byId("undo").disabled = !app.tool?.isDrawing && !app.history.canUndo;
  byId("redo").disabled = app.tool?.isDrawing || !app.history.canRedo;
  if (held?.disabled) surface.focus(); // a button that can't be pressed holds no focus
}

function stepped() {
  steps();
  panel.refreshChosen();
  state();
}

function weighed(outcome, words) {
  panel.weighed(outcome);
  panel.refreshChosen();
  byId("save").disabled = !outcome.ok;
  if (!outcome.ok) say(`${words}${outcome.problems.map((p) => p.words).join(" ")}`);
  else if (words) say(words);
  document.documentElement.dataset.figuresMs = app.tookMs.toFixed(1);
  state();
}

function chosen() {
  panel?.refreshChosen();
  panel?.refreshDoubt();
  if (app.tool?.name === "redraw") controls.refresh();
}

function state() {
  const { history } = app;
  const words = history.isSaved ? "Saved" : `Not saved yet${draftWords}`;
  byId("state").textContent = words;
  byId("state").classList.toggle("unsaved", !history.isSaved);
}

function drafted(_, how, more) {
  if (how === "kept") noFault();
  draftWords = { waiting: "", kept: KEPT, failed: ", and the draft could not be kept" }[how];
  if (how === "failed") failed(more);
  steps();
  state();
}

function busy(on) {
  app.isBusy = on;
  document.body.classList.toggle("busy", on);
}

function failed(error) {
  if (error.answer?.stale) {
    conflict(error);
    return;
  }
  if (error.answer?.problems) app.take({ ok: false, problems: error.answer.problems });
  banner(error.message, [["Close", hideBanner]], FAULT);
}

/** Something typed that can be no place on a racquet. */
function refused(words) {
  say(words);
  banner(words, [["Close", hideBanner]], FAULT);
}

/** What went wrong last has been put right. */
function noFault() {
  if (byId("banner").dataset.kind === FAULT) hideBanner();
}

/** What may be done about it, each with what it loses. */
function conflict(error) {
  const fresh = ["Open the file, put this drawing aside", reopen];
  const over = (lost) => [`Write over ${lost}`, () => save(true)];
  const choices = {
    window: [["Show what the other window has", () => location.reload()], ["Go on from here instead", takeOver]],
    outline: [fresh, over("the file's outline")],
    photo: [fresh, over("all that the file holds")],
    unreadable: [over("all that the file holds")],
    gone: [["Write it anew", () => save(true)]],
  }[error.answer.stale];
  if (error.answer.stale !== "window") choices.push(["Not now", hideBanner]);
  banner(`${error.message} Nothing has been overwritten.`, choices, CONFLICT);
}

async function takeOver() {
  hideBanner();
  try {
    await app.history.takeOver();
    state();
    say("This window goes on; the other one is told.");
  } catch (error) { app.fail(error); }
}

async function reopen() {
  await post("reopen");
  location.reload();
}

function warnOfOthers() {
  banner("This racquet is open in another window too. Each is told when the other changes something.", [["Close", hideBanner]], OTHERS);
}

function banner(words, choices, kind) {
  const box = byId("banner");
  box.dataset.kind = kind;
  const text = document.createElement("p");
  text.textContent = words;
  box.replaceChildren(text, ...choices.map(([label, on]) => button(label, on)));
  box.hidden = false;
}

function hideBanner() { byId("banner").hidden = true; }

async function save(force = false) {
  if (!app.history) return;
  await app.busy(async () => {
    await app.settling?.catch(() => {}); // a number typed just now may have made the drawing sound, or unsound
    if (byId("save").disabled) return;
    const answer = await app.history.save(force === true);
    hideBanner();
    if (!takenIn(answer, "Saved. ")) say("Saved.");
    state();
  });
}

/** Other readings or pieces that the file has got from elsewhere count from here on: whether there are any. */
function takenIn(answer, words = "") {
  if (answer.taken === taken) return false;
  taken = answer.taken;
  app.weigh(`${words}Readings or pieces that other commands have written into the file are taken in.`);
  return true;
}

async function ping() {
  const { history } = app, { number, isKept } = history;
  const is = (kind) => !byId("banner").hidden && byId("banner").dataset.kind === kind;
  try {
    const answer = await post(`ping?window=${windowName}`);
    takenIn(answer);
    const isOwn = !isKept || !history.isKept || number !== history.number; // steps of this window are on their way
    if (answer.number !== number && !isOwn && !is(CONFLICT)) {
      conflict({ message: "Another window has changed this racquet since.", answer: { stale: "window" } });
    }
  } catch (error) {
    if (byId("banner").hidden || is(OTHERS)) app.fail(error);
  }
}

function declare(number) {
  const doubt = app.doubts[number];
  app.doubt = number; // D goes on from here
  const declared = [...app.edit.declared, { start: doubt.start, end: doubt.end }];
  app.commit({ ...app.edit, declared });
  say("Declared right.");
}

function placePoint(axis, value) {
  const to = rings(app.edit)[app.ring].points[app.point].slice();
  to[axis] = value;
  app.commit(movedPoint(app.edit, app.ring, app.point, to));
}

function placeMark(key, value) {
  const { edit } = app;
  const changes = {
    butt: { butt_mm: value }, handle: { handle_top_mm: value, marks_by_hand: true },
    throat: { throat_top_mm: value, marks_by_hand: true },
    low: { axis: { ...edit.axis, at_butt_mm: value } }, high: { axis: { ...edit.axis, at_tip_mm: value } },
  };
  app.commit({ ...edit, ...changes[key] });
}

function pointTool(use) {
  const tool = tools[0];
  use(tool);
}

function hovered(pointer) {
  if (!app.edit) return;
  const { up, right, origin } = axisFrame(app.edit, app.sheet.tip);
  const d = [pointer.x - origin[0], pointer.y - origin[1]];
  const across = d[0] * right[0] + d[1] * right[1];
  const along = d[0] * up[0] + d[1] * up[1] - (app.outcome?.butt ?? 0);
  tell(`${Math.abs(across).toFixed(1)} mm ${across < 0 ? "left" : "right"}, ${along.toFixed(1)} mm from the butt`);
}

function tell(words) { byId("readout").textContent = words; }

function say(words) {
  byId("say").textContent = words;
  tell(words);
}

listen(surface, app);
listenKeys(surface, app, act);
byId("undo").addEventListener("click", act.undo);
byId("redo").addEventListener("click", act.redo);
byId("save").addEventListener("click", () => save());
byId("zoom-in").addEventListener("click", () => act.zoom(1.35));
byId("zoom-out").addEventListener("click", () => act.zoom(1 / 1.35));
byId("zoom-fit").addEventListener("click", act.fit);
byId("zoom-pixel").addEventListener("click", act.pixels);
addEventListener("pagehide", leave);
addEventListener("beforeunload", (event) => {
  const isKept = app.history ? app.history.isKept : !app.hasMarks;
  if (!isKept || app.tool?.isDrawing) event.preventDefault();
});
window.drawing = app;
begin().catch((error) => {
  byId("state").textContent = "The racquet could not be opened";
  app.fail(error);
});
