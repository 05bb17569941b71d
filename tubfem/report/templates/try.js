"use strict";
// Plies tried in the page: what is chosen, what the reduced model says of it, and how to confirm it.
const TRY = (() => {
  const w = PAGE.data.what_if;
  if (!w) return null;
  const { make, quantity } = PAGE, at = (id) => document.getElementById(id);
  const degrees = (angle) => String(Number(((angle * 180) / Math.PI).toFixed(6)));
  const base = WHAT_IF.answer([]);
  let edits = [], earlier = [];

  const option = (value, text) => make("option", text, { value });
  const where = at("try-where");
  const patches = (mount) => Object.keys(w.patches).filter((name) => w.patches[name].mount === mount).map((name) => [`patch:${name}`, name]);
  for (const [label, rows] of [
    ["regions", Object.keys(w.regions).map((name) => [name, name])],
    ["joint tabs", Object.entries(w.tabs).flatMap(([kind, tab]) => [[`joint:${kind}`, `all ${kind}`], ...tab.alone.map((joint) => [`joint:${joint}`, joint])])],
    ["patches", patches(false)],
    ["patches round mounts", patches(true)],
  ]) {
    if (!rows.length) continue;
    const group = make("optgroup", undefined, { label });
    for (const [value, text] of rows) group.append(option(value, text));
    where.append(group);
  }

  function offerPlies() {
    const { table, kind } = WHAT_IF.placed(where.value), kept = at("try-ply").value;
    const counted = (name) => table.own.filter((ply) => ply.name === name && !ply.core).length;
    at("try-ply").replaceChildren(...Object.keys(table.tried).map((name) => option(name, counted(name) ? `${name} (${counted(name)} laid)` : name)));
    const most = Object.keys(table.tried).sort((a, b) => counted(b) - counted(a))[0];
    at("try-ply").value = kept in table.tried ? kept : most;
    at("try-face-label").hidden = kind !== "region";
    if (kind !== "region") at("try-face").value = "far";
    offerAngles();
  }
  function offerAngles() {
    const tried = WHAT_IF.placed(where.value).table.tried[at("try-ply").value];
    at("try-angle").replaceChildren(option("", `${degrees(tried.usual)}°, as usual there`), ...tried.angles.filter((angle) => Math.abs(angle - tried.usual) > 1e-9).map((angle) => option(String(angle), `${degrees(angle)}°`)));
  }

  const text = (edit) => {
    const count = Math.abs(edit.count);
    return `${edit.target}=${edit.ply}${edit.angle === null ? "" : `@${degrees(edit.angle)}`}${count > 1 ? `*${count}` : ""}${edit.face === "far" ? "" : `:${edit.face}`}`;
  };
  const isSame = (a, b) => a.target === b.target && a.ply === b.ply && a.angle === b.angle && a.face === b.face;

  // One ply more or fewer of the same kind at the same place; edits that cancel go.
  function changed(edit, by) {
    const found = edits.find((one) => isSame(one, edit));
    const next = found ? edits.map((one) => (one === found ? { ...one, count: one.count + by } : one)) : [...edits, { ...edit, count: by }];
    take(next.filter((one) => one.count));
  }
  function take(next, remember = true) {
    const found = WHAT_IF.answer(next), refused = at("try-refused");
    refused.hidden = !found.refused;
    refused.textContent = found.refused ?? "";
    if (found.refused) return;
    if (remember) earlier.push(edits);
    edits = next;
    show(found);
  }

  const signed = (value, kind) => (value < 0 ? "−" : "+") + quantity(Math.abs(value), kind);
  const money = (value) => (value < 0 ? "−" : "+") + Math.abs(value).toFixed(2);
  function lowest(margins) {
    let found = null;
    for (const [region, one] of margins) if (!found || one.margin < found.margin) found = { region, ...one };
    return found;
  }
  const told = (one) => (one ? `${PAGE.margin(one.margin)} ${one.region}: ${one.kind}` : "no limit");

  const percent = (gain) => `${gain < 0 ? "−" : "+"}${Math.abs((100 * gain) / w.base.stiffness).toFixed(2)} %`;
  const close = (value, apart) => PAGE.scaled(value, "stiffness").toFixed(Math.min(Math.max(1 - Math.floor(Math.log10(PAGE.scaled(apart, "stiffness") || 1)), 0), 4));
  let shown = base;
  function show(found) {
    shown = found;
    const gain = found.stiffness - w.base.stiffness, half = 0.5 * (found.high - found.low);
    at("try-stiffness").textContent = quantity(found.stiffness, "stiffness");
    at("try-gain").textContent = edits.length
      ? `${signed(gain, "stiffness")}, ${percent(gain)}. The reduced model is wrong by ${quantity(half, "stiffness")} at most: ${close(found.low, half)} to ${close(found.high, half)}.`
      : "The tub as it is. Choose a place and a cloth, then lay a ply.";
    const rows = [["mass", edits.length ? `${quantity(w.base.mass + found.mass, "mass")} (${signed(found.mass, "mass")})` : quantity(w.base.mass, "mass")]];
    if (found.mass > 0) rows.push(["gain by mass", quantity(gain / found.mass, "per_mass")]);
    for (const [currency, amount] of Object.entries(found.cost)) rows.push(["cloth and core", `${amount.toFixed(0)} ${currency}${edits.length ? ` (${money(amount - (w.base.cost[currency] ?? 0))})` : ""}`]);
    if (found.unpriced.length) rows.push(["without a price", found.unpriced.join(", ")]);
    rows.push(["lowest margin", told(lowest(found.margins))]);
    if (edits.length) rows.push(["before", told(lowest(base.margins))]);
    at("try-rows").replaceChildren(...rows.flatMap(([key, value]) => [make("dt", key), make("dd", value)]));
    at("try-margins").replaceChildren(...[...base.margins].sort((a, b) => a[1].margin - b[1].margin).map(([region, one]) => {
      const now = found.margins.get(region), line = make("tr");
      line.append(make("th", region, { scope: "row" }), make("td", PAGE.margin(one.margin), { class: "r" }), make("td", now ? PAGE.margin(now.margin) : "no limit", { class: now?.margin < 0 ? "r low" : "r" }), make("td", now?.kind ?? "–"));
      return line;
    }));
    at("try-edits").replaceChildren(...edits.map((edit) => {
      const line = make("li"), name = make("code", `${edit.count < 0 ? "drop" : "add"} ${text(edit)}`), less = make("button", "−", { type: "button", "aria-label": `one ply less: ${text(edit)}` }), more = make("button", "+", { type: "button", "aria-label": `one ply more: ${text(edit)}` });
      less.addEventListener("click", () => changed(edit, -1));
      more.addEventListener("click", () => changed(edit, 1));
      line.append(name, less, more);
      return line;
    }));
    at("try-short").textContent = edits.length ? `${quantity(found.stiffness, "stiffness")} (${percent(gain)}), ${signed(found.mass, "mass")}; lowest margin ${told(lowest(found.margins))}` : "";
    at("try-undo").disabled = !earlier.length;
    at("try-reset").disabled = !edits.length;
    at("try-out").hidden = !edits.length;
    const flags = flagged();
    at("try-command").textContent = ["tubfem run", quoted(w.case.path), ...flags.map(([flag, value]) => `${flag} ${quoted(value)}`)].join(" ");
    const lists = ["add", "drop", "without"].map((name) => [name, flags.filter(([flag]) => flag === `--${name}`).map(([, value]) => JSON.stringify(value))]);
    at("try-case").textContent = ["[variants.tried]", ...lists.filter(([, all]) => all.length).map(([name, all]) => `${name} = [${all.join(", ")}]`)].join("\n");
  }

  // Changes the page was made with, then those tried; a single joint before its kind, from which it then parts.
  function flagged() {
    const before = w.case.changes.map((change) => { const space = change.indexOf(" "); return [change.slice(0, space), change.slice(space + 1)]; });
    const order = (edit) => (edit.target.startsWith("joint:") && !(edit.target.slice(6) in w.tabs) ? 0 : 1);
    return [...before, ...[...edits].sort((a, b) => order(a) - order(b)).map((edit) => [edit.count < 0 ? "--drop" : "--add", text(edit)])];
  }
  const quoted = (value) => (/^[\w./-]+$/.test(value) ? value : `'${value.replaceAll("'", "'\\''")}'`);

  const chosen = () => ({ target: where.value, ply: at("try-ply").value, angle: at("try-angle").value === "" ? null : Number(at("try-angle").value), face: at("try-face").value });
  where.addEventListener("change", offerPlies);
  at("try-ply").addEventListener("change", offerAngles);
  at("try-more").addEventListener("click", () => changed(chosen(), 1));
  at("try-less").addEventListener("click", () => changed(chosen(), -1));
  at("try-undo").addEventListener("click", () => take(earlier.pop(), false));
  at("try-reset").addEventListener("click", () => take([]));
  for (const button of document.querySelectorAll("[data-copy]")) button.addEventListener("click", async () => {
    const words = button.textContent, source = at(button.dataset.copy);
    try {
      await navigator.clipboard.writeText(source.textContent);
      button.textContent = "Copied";
    } catch (error) { // a page opened from disk may not write there: mark the text, so that it can be copied by hand
      getSelection().selectAllChildren(source);
      button.textContent = "Marked: copy it now";
    }
    setTimeout(() => { button.textContent = words; }, 2000);
  });
  PAGE.onPick((region) => { if (region in w.regions) { where.value = region; offerPlies(); } });
  PAGE.onUnits(() => show(shown));
  offerPlies();
  show(base);
  return { take };
})();
