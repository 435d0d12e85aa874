"use strict";
(() => {
  const $ = (id) => document.getElementById(id);
  const finder = $("finder"), boards = $("boards"), flat = $("flat"), held = $("held"), found = $("found");
  const fields = ["text", "hue", "light", "band", "family", "order"].map((it) => [it, $("f-" + it)]).filter((it) => it[1]);
  const field = (name) => (fields.find((it) => it[0] === name) || [0, { value: "" }])[1].value;
  // One entry a swatch; the same swatch on a second board follows the first.
  const all = new Map();
  for (const li of boards.querySelectorAll(".key li")) {
    const id = li.querySelector("b").textContent;
    const [light, chroma, hue, band, families, hueSign, lightSign] = li.dataset.v.split(",");
    const it = all.get(id) || {
      id, entries: [], places: [...boards.querySelectorAll(".board .s" + id)],
      light: +light, chroma: +chroma, hue: +hue, band, families, hueSign, lightSign,
      text: (li.querySelector("a").textContent + " " + li.querySelector("span bdi").textContent).toLowerCase(), name: li.querySelector("bdi").textContent,
    };
    it.words = it.text.split(/\s+/);
    it.entries.push(li);
    all.set(id, it);
  }
  const MOST = 4;
  const chosen = [];

  const button = (it, li) => {
    const b = document.createElement("button");
    b.type = "button";
    b.textContent = "hold";
    b.setAttribute("aria-pressed", "false");
    b.setAttribute("aria-label", "hold " + it.id + " " + it.name + " beside others");
    b.addEventListener("click", () => hold(it));
    li.append(" ", b);
    return b;
  };
  for (const it of all.values()) for (const a of it.places) a.setAttribute("aria-label", it.id + " " + it.name);
  for (const it of all.values()) it.buttons = it.entries.map((li) => button(it, li));

  const hold = (it) => {
    const at = chosen.indexOf(it);
    if (at >= 0) chosen.splice(at, 1);
    else if (chosen.length < MOST) chosen.push(it);
    for (const one of all.values()) {
      const on = chosen.includes(one);
      for (const b of one.buttons) {
        b.setAttribute("aria-pressed", String(on));
        b.disabled = !on && chosen.length === MOST;
      }
    }
    held.hidden = chosen.length === 0;
    held.replaceChildren(...chosen.map(strip), done());
    document.body.classList.toggle("holding", chosen.length > 0);
  };

  // The strips touch: that is how small differences are seen.
  const strip = (it) => {
    const li = it.entries[0];
    const div = document.createElement("div");
    div.className = li.className;
    const a = li.querySelector("a").cloneNode(true);
    const values = document.createElement("span");
    values.textContent = li.querySelector("span").textContent;
    const b = document.createElement("button");
    b.type = "button";
    b.textContent = "put back";
    b.setAttribute("aria-label", "put back " + it.id + " " + it.name);
    b.addEventListener("click", () => { hold(it); (held.querySelector("button") || it.buttons[0]).focus(); });
    div.append(a, values, b);
    return div;
  };
  const done = () => {
    const p = document.createElement("p");
    p.setAttribute("role", "status");
    p.textContent = chosen.length + " of " + MOST + " held" + (chosen.length < 2 ? ": hold another to see both edge to edge" : "");
    return p;
  };

  const orders = {
    light: (a, b) => b.light - a.light,
    chroma: (a, b) => b.chroma - a.chroma,
    hue: (a, b) => (a.hueSign === "g") - (b.hueSign === "g") || a.hue - b.hue,
    band: (a, b) => a.band - b.band,
    name: (a, b) => a.name.localeCompare(b.name, "en"),
  };
  const home = [...boards.querySelectorAll(".key li")].map((li) => [li, li.parentNode]);

  let shown = "";
  const fits = (it, w) => /^\d+$/.test(w)
    ? it.id === w || it.words.includes(w) || (w.length > 2 && it.text.includes(w))
    : it.text.includes(w);
  const show = () => {
    const words = field("text").toLowerCase().split(/\s+/).filter(Boolean);
    const [hue, light, band, family, order] = ["hue", "light", "band", "family", "order"].map(field);
    let n = 0;
    for (const it of all.values()) {
      it.fits = words.every((w) => fits(it, w)) && (!hue || it.hueSign === hue) && (!light || it.lightSign === light)
        && (!band || it.band === band) && (!family || it.families.includes(family));
      n += it.fits;
      for (const li of it.entries) li.hidden = !it.fits;
      for (const a of it.places) a.classList.toggle("out", !it.fits);
    }
    const listed = Object.hasOwn(orders, order);
    // Nodes move only when the order does. Back to the boards first.
    if (order !== shown) for (const [li, ol] of home) ol.append(li);
    if (listed && order !== shown) {
      const by = orders[order];
      const sorted = [...all.values()].sort((a, b) => by(a, b) || a.id - b.id);
      flat.append(...sorted.map((it) => it.entries[0]));
    }
    shown = order;
    flat.hidden = !listed;
    boards.hidden = listed;
    for (const it of boards.querySelectorAll(".plate")) it.hidden = ![...it.querySelectorAll("li")].some((li) => !li.hidden);
    found.textContent = n === 1 ? "1 colour" : n + " colours";
    if (n < all.size) found.textContent += " of " + all.size;
  };
  finder.addEventListener("input", show);
  finder.addEventListener("submit", (it) => it.preventDefault());
  finder.hidden = false;
  show();
  // A browser that goes back keeps what was chosen, and the list follows.
  addEventListener("pageshow", show);
})();
