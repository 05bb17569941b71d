"use strict";
// What the whole page shares: its data, numbers and units, printing. Everything from the case is set as text.
const PAGE = (() => {
  const data = JSON.parse(document.getElementById("data").textContent);
  let inch = false;
  const listeners = [], pickers = [];

  function bytes(text) {
    const raw = atob(text), out = new Uint8Array(raw.length);
    for (let i = 0; i < raw.length; i++) out[i] = raw.charCodeAt(i);
    return out.buffer;
  }
  const floats = (text) => new Float32Array(bytes(text)), doubles = (text) => new Float64Array(bytes(text));
  const words = (text) => new Uint16Array(bytes(text)), integers = (text) => new Uint32Array(bytes(text));

  function three(value) {
    if (!Number.isFinite(value)) return value > 0 ? "no limit" : "none";
    if (value === 0) return "0";
    const decimals = (x) => 2 - Math.floor(Math.log10(Math.abs(x)));
    const scale = 10 ** decimals(value);
    const rounded = Math.round(value * scale) / scale;
    return rounded.toFixed(Math.min(Math.max(decimals(rounded), 0), 20));
  }

  function unit(kind) {
    const measure = data.measures[kind];
    return inch ? measure.inch_unit : measure.unit;
  }

  function scaled(value, kind) {
    const measure = data.measures[kind];
    return value * (inch ? measure.inch_factor : measure.factor);
  }

  // A quantity as text: number(0.5, "length") is "500", quantity(0.5, "length") is "500 mm".
  const number = (value, kind) => three(scaled(value, kind));
  const quantity = (value, kind) => `${number(value, kind)} ${unit(kind)}`.trim();
  const place = (at) => at.map((c) => (inch ? scaled(c, "length").toFixed(1) : String(Math.round(scaled(c, "length")) + 0))).join(", ");
  const margin = (value) => (value > 10 ? "> 10" : (value < 0 ? "−" : "+") + Math.abs(value).toFixed(Math.abs(value) < 0.05 ? 3 : 2));

  function show() {
    for (const found of document.querySelectorAll("data[data-kind]")) {
      const kind = found.dataset.kind, value = Number(found.value);
      let text = !inch && found.dataset.said ? found.dataset.said : number(value, kind);
      if (found.dataset.whole) text = inch ? scaled(value, kind).toFixed(1) : String(Math.round(scaled(value, kind)) + 0);
      found.textContent = found.dataset.unit ? `${text} ${unit(kind)}`.trim() : text;
    }
    for (const found of document.querySelectorAll("tspan[data-kind]")) {
      found.textContent = String(Number(scaled(Number(found.dataset.value), found.dataset.kind).toPrecision(Number(found.dataset.digits))));
    }
    for (const found of document.querySelectorAll("[data-unit-of]")) found.textContent = unit(found.dataset.unitOf);
    label();
    for (const listener of listeners) listener();
  }

  // Tables whose rows stand as lists on a phone: every cell says its column, and each part what it is to a reader.
  const ROLES = { table: "table", thead: "rowgroup", tbody: "rowgroup", tr: "row", th: "rowheader", td: "cell" };
  function label() {
    for (const table of document.querySelectorAll("table.rows")) {
      const headings = [...table.tHead.rows[0].cells].map((cell) => cell.textContent);
      for (const body of table.tBodies) for (const row of body.rows) for (const cell of row.cells) if (cell.tagName === "TD") cell.dataset.label = headings[cell.cellIndex];
    }
  }
  for (const table of document.querySelectorAll("table.rows")) {
    table.parentElement.classList.add("listed");
    for (const part of [table, ...table.querySelectorAll("thead, tbody, tr, th, td")]) part.setAttribute("role", part.scope === "col" ? "columnheader" : ROLES[part.localName]);
  }
  label();

  // The keyboard stops only at tables that are wider than their place.
  const widths = new ResizeObserver((all) => {
    for (const { target } of all) {
      const box = target.classList.contains("scroll") ? target : target.closest(".scroll");
      if (box.scrollWidth > box.clientWidth + 1) box.tabIndex = 0;
      else box.removeAttribute("tabindex");
    }
  });
  for (const found of document.querySelectorAll(".scroll")) { widths.observe(found); if (found.firstElementChild) widths.observe(found.firstElementChild); }

  const button = document.getElementById("units");
  button.addEventListener("click", () => {
    inch = !inch;
    button.textContent = inch ? "kg · mm" : "lb · in";
    button.setAttribute("aria-pressed", String(inch));
    show();
  });

  // Printing shows everything that is folded away, and folds it again.
  let opened = [];
  window.addEventListener("beforeprint", () => {
    opened = [...document.querySelectorAll("details:not([open])")];
    for (const found of opened) found.open = true;
  });
  window.addEventListener("afterprint", () => {
    for (const found of opened) found.open = false;
  });

  function make(tag, text, attributes = {}) {
    const found = document.createElement(tag);
    if (text !== undefined) found.textContent = text;
    for (const [name, value] of Object.entries(attributes)) found.setAttribute(name, value);
    return found;
  }

  return { data, floats, doubles, words, integers, three, number, quantity, unit, scaled, place, margin, make, onUnits: (listener) => listeners.push(listener),
    onPick: (listener) => pickers.push(listener), picked: (region) => { for (const listener of pickers) listener(region); } };
})();
