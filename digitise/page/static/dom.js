// Small helpers to build parts of the page.

/** No place on a photo with a racquet in it is farther from the racquet's butt. */
const MOST_MM = 2000;

/** An element with attributes and children; "on" adds a click listener. */
export function el(name, { on, ...attributes } = {}, ...children) {
  const node = document.createElement(name);
  for (const [key, value] of Object.entries(attributes)) {
    if (value === false || value === null || value === undefined) continue;
    if (key in node && typeof value !== "string") node[key] = value;
    else node.setAttribute(key, value);
  }
  if (on) node.addEventListener("click", on);
  node.append(...children.filter((child) => child !== null && child !== undefined));
  return node;
}

export const button = (words, on, attributes = {}) => el("button", { type: "button", on, ...attributes }, words);

/** A switch: a button that stays pressed. */
export function toggle(words, isOn, on, attributes = {}) {
  const node = button(words, () => on(node.getAttribute("aria-pressed") !== "true"), attributes);
  node.setAttribute("aria-pressed", String(isOn));
  node.classList.add("switch");
  return node;
}

/** A number with its unit; "changed" gets the number once it is typed, "refused" why it can't be one. */
export function numberField(label, unit, step, changed, refused) {
  const input = el("input", { type: "number", step: String(step), inputmode: "decimal" });
  let shown = "";
  const show = (words) => { input.value = shown = words; };
  input.addEventListener("change", () => {
    const value = input.valueAsNumber;
    if (Math.abs(value) <= MOST_MM) {
      shown = input.value;
      changed(value);
      return;
    }
    show(shown);
    refused(Number.isNaN(value) ? `${label} needs a number; it stays at ${shown} ${unit}.`
      : `${value} ${unit} is far off any racquet: check the decimal point. ${label} stays at ${shown} ${unit}.`);
  });
  const node = el("label", { class: "field" }, el("span", {}, label), input, el("span", { class: "unit" }, unit));
  return { node, input, show };
}
