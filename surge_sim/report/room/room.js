"use strict";
// All words come from the data; they are put in place as text, never as markup.
(() => {
  const data = JSON.parse(document.getElementById("data").textContent);
  const byId = (id) => document.getElementById(id);
  const [board, panel, time, play, speed] = ["board", "panel", "time", "play", "speed"].map(byId);
  const state = { choices: [], shown: 0, present: 0, playing: false, waiting: true };
  const numbers = new Map();
  let discussion = null;

  // --- small helpers -------------------------------------------------------------------------
  function make(tag, text, attributes = {}) {
    const one = document.createElement(tag);
    if (text !== undefined && text !== null) one.textContent = text;
    for (const [name, value] of Object.entries(attributes)) one.setAttribute(name, value);
    return one;
  }
  function put(...parts) {
    for (const one of parts) if (one) panel.append(one);
  }
  function button(text, act, main = true) {
    const one = make("button", text, { type: "button" });
    if (main) one.className = "main";
    one.addEventListener("click", act);
    return one;
  }
  function list(items) {
    const one = make("ul");
    for (const text of items) one.append(make("li", text));
    return one;
  }
  const two = (number) => String(number).padStart(2, "0");
  function clock(seconds) {
    const at = new Date(data.start_ms + seconds * 1000);
    const day = ["Sun", "Mon", "Tue", "Wed", "Thu", "Fri", "Sat"][at.getUTCDay()];
    const said = `${day} ${two(at.getUTCHours())}:${two(at.getUTCMinutes())}`;
    return data.days ? `Day ${Math.floor(seconds / 86400) + 1}, ${said}` : said;
  }
  function minutes(seconds) {
    const whole = Math.floor(seconds / 60);
    return whole < 120 ? `${whole} min` : `${Math.floor(whole / 60)} h ${whole % 60} min`;
  }

  // --- what is known: only branches behind choices that were made ------------------------------
  const branchOf = (made) => data.branches[state.choices.slice(0, made).map((c) => c + 1).join("-")];
  const present = () => branchOf(state.choices.length);
  function branchAt(seconds) {
    let made = 0;
    while (made < state.choices.length && seconds >= branchOf(made + 1).from) made += 1;
    return branchOf(made);
  }
  function look(seconds) {
    const branch = branchAt(seconds);
    let place = 0;
    while (place + 1 < branch.at.length && branch.at[place + 1] <= seconds) place += 1;
    return Object.fromEntries(Object.entries(branch.seen).map(([key, row]) => [key, row[place]]));
  }

  // --- the board -----------------------------------------------------------------------------
  function layBoard() {
    for (const group of data.board) {
      board.append(make("h2", group.name));
      const lines = make("dl");
      for (const [key, label] of group.items) {
        const [number, bar, cell] = [make("dd"), make("div", null, { class: "bar" }), make("div")];
        cell.append(bar);
        lines.append(number, make("dt", label), cell);
        numbers.set(key, { number, bar, most: group.most, wait: key.endsWith("_s") });
      }
      board.append(lines);
    }
  }
  function draw() {
    const seen = look(state.shown);
    for (const [key, one] of numbers) {
      one.number.textContent = one.wait ? minutes(seen[key]) : String(seen[key]);
      const share = one.wait || !one.most ? 0 : Math.min(seen[key] / one.most, 1);
      one.bar.style.width = `${100 * share}%`;
    }
    byId("clock").textContent = clock(state.shown);
    document.body.classList.toggle("past", state.shown < state.present);
    time.max = state.present;
    time.value = state.shown;
    time.setAttribute("aria-valuetext", clock(state.shown));
    play.textContent = state.playing ? "Pause" : "Play";
    drawCharts();
    play.disabled = state.waiting && state.shown >= state.present;
  }

  // --- what was seen until the present ---------------------------------------------------------
  const SVG = "http://www.w3.org/2000/svg";
  const charts = [];
  function layCharts() {
    put(make("h3", "Seen until now"));
    for (const [key, label] of data.charts) {
      const figure = make("figure", null, { class: "seen" });
      const picture = document.createElementNS(SVG, "svg");
      picture.setAttribute("viewBox", "0 0 600 90");
      picture.setAttribute("preserveAspectRatio", "none");
      picture.setAttribute("aria-hidden", "true");
      const line = document.createElementNS(SVG, "path");
      picture.append(line);
      const caption = make("figcaption");
      figure.append(caption, picture);
      panel.append(figure);
      charts.push({ key, label, line, caption });
    }
  }
  function drawCharts() {
    for (const { key, label, line, caption } of charts) {
      const seen = [];
      for (let made = 0; made <= state.choices.length; made += 1) {
        const branch = branchOf(made);
        branch.at.forEach((at, place) => {
          if (at <= state.present) seen.push([at, branch.seen[key][place]]);
        });
      }
      const most = Math.max(...seen.map(([, value]) => value));
      const steps = seen.map(([at, value]) =>
        `${(600 * at) / Math.max(state.present, 1)},${86 - (80 * value) / Math.max(most, 1)}`);
      line.setAttribute("d", `M${steps.join("L")}`);
      caption.textContent = `${label}: ${seen[seen.length - 1][1]} now, ${most} at most`;
    }
  }

  // --- the clock -----------------------------------------------------------------------------
  let last = 0;
  function tick(now) {
    if (!state.playing) return;
    const passed = Math.min((now - last) / 1000, 0.25);
    last = now;
    state.shown = Math.min(state.shown + passed * Number(speed.value), present().shown_to);
    state.present = Math.max(state.present, state.shown);
    if (state.waiting && state.shown >= state.present) state.playing = false;
    if (!state.waiting && state.shown >= present().shown_to) arrive();
    draw();
    if (state.playing) requestAnimationFrame(tick);
  }
  function setPlaying(on) {
    state.playing = on && !(state.waiting && state.shown >= state.present);
    if (state.playing) {
      last = performance.now();
      requestAnimationFrame(tick);
    }
    draw();
  }
  function arrive() {
    state.playing = false;
    state.waiting = true;
    const made = state.choices.length;
    clear();
    cameOfIt(made);
    if (made < data.moments.length) put(button("What happens now", () => decide(made)));
    else put(button("Hot wash", wash));
    layCharts();
    focusPanel();
  }
  function goOn() {
    if (discussion) clearInterval(discussion);
    discussion = null;
    state.waiting = false;
    state.shown = state.present;
    clear();
    put(make("h2", "The surge goes on"));
    const made = state.choices.length;
    if (made) put(make("p", `You chose: ${chosenName(made - 1)}.`));
    layCharts();
    setPlaying(true);
    play.focus();
  }
  const chosenName = (made) => data.moments[made].choices[state.choices[made]].name;

  // --- the panel -----------------------------------------------------------------------------
  function clear() {
    panel.replaceChildren();
    panel.scrollTop = 0;
    charts.length = 0;
  }
  function focusPanel() {
    panel.focus({ preventScroll: true });
  }
  function story(rows) {
    const one = make("dl", null, { class: "story" });
    for (const [when, said] of rows) one.append(make("dt", when), make("dd", said));
    return one;
  }
  function cameOfIt(made) {
    const branch = branchOf(made);
    put(make("h2", made ? `What came of “${chosenName(made - 1)}”` : "Until now"));
    put(make("p", branch.came));
    if (branch.story.length) put(make("h3", "The story of one entry"), story(branch.story));
  }
  function decide(made) {
    clear();
    const moment = data.moments[made];
    const form = make("form");
    const choices = make("fieldset", null, { class: "choices" });
    choices.append(make("legend", "What do you decide?"));
    const sure = button("Decide", () => {}, true);
    sure.type = "submit";
    sure.disabled = true;
    moment.choices.forEach((choice, place) => {
      const label = make("label", null, { class: "choice" });
      const radio = make("input", null, { type: "radio", name: "choice", value: place });
      radio.addEventListener("change", () => { sure.disabled = false; });
      label.append(radio, make("b", `${place + 1}. ${choice.name}`), make("span", choice.words));
      if (choice.condition) label.append(make("em", choice.condition));
      choices.append(label);
    });
    form.append(choices, sure);
    form.addEventListener("submit", (event) => {
      event.preventDefault();
      const chosen = form.querySelector("input:checked");
      if (!chosen) return;
      state.choices.push(Number(chosen.value));
      goOn();
    });
    put(make("h2", moment.title), make("blockquote", moment.read), discuss(moment), form, rules());
    focusPanel();
  }
  function rules() {
    const one = make("details");
    one.append(make("summary", "Rules of this unit"), list(data.rules));
    return one;
  }
  function discuss(moment) {
    const row = make("div", null, { class: "discussion" });
    const shown = make("output");
    let left = moment.discuss, runs = true;
    const show = () => {
      shown.textContent = left > 0 ? `${Math.floor(left / 60)}:${two(left % 60)}` : "Time is up";
    };
    const stop = button("Pause", () => {
      runs = !runs;
      stop.textContent = runs ? "Pause" : "Go on";
    }, false);
    const more = button("1 min more", () => { left = Math.max(left, 0) + 60; show(); }, false);
    if (discussion) clearInterval(discussion);
    discussion = setInterval(() => {
      if (runs && left > 0) { left -= 1; show(); }
    }, 1000);
    show();
    row.append(make("span", "To discuss:"), shown, stop, more);
    return row;
  }

  // --- the hot wash ----------------------------------------------------------------------------
  function wash() {
    document.body.classList.add("wash");
    clear();
    const path = state.choices.map((choice) => choice + 1).join("-");
    const told = data.wash[path];
    put(make("h2", "Hot wash"), make("p", told.short), make("h3", "How hard this surge was"));
    put(make("p", told.hard));
    for (const one of told.decisions) {
      const figure = make("figure");
      const source = `data:image/svg+xml,${encodeURIComponent(one.picture)}`;
      figure.append(make("img", null, { src: source, alt: one.sentence }));
      figure.append(make("figcaption", data.legend));
      put(make("h3", one.name), make("p", one.sentence));
      put(...one.permissions.map((said) => make("p", said)), tableOf(one.table), figure);
    }
    put(make("h3", "Every path"), tableOf(data.paths, path), list(data.reading));
    report(told.facts);
    put(button("Print", () => print()), button("Begin again", () => location.reload(), false));
    focusPanel();
  }
  // What is empty is a space to write in, here or on paper.
  function blank(tag) {
    const one = make(tag, "", { role: "textbox", "aria-label": "write here" });
    one.contentEditable = "true";
    return one;
  }
  function report(facts) {
    const rows = make("dl", null, { class: "story" });
    for (const [label, text] of facts) {
      rows.append(make("dt", label), text ? make("dd", text) : blank("dd"));
    }
    const hint = "Write here and print, or print and write by hand: this page keeps nothing.";
    put(make("h3", data.report), make("p", hint, { class: "hint" }), rows);
    for (const block of data.form) {
      if (block.heading) put(make("h3", block.heading));
      else if (block.text) put(make("p", block.text));
      else {
        const table = tableOf(block);
        table.className = "form";
        put(table);
      }
    }
  }
  function tableOf({ head, rows }, taken) {
    const table = make("table"), top = make("thead"), names = make("tr"), body = make("tbody");
    for (const text of head) names.append(make("th", text, { scope: "col" }));
    top.append(names);
    for (const cells of rows) {
      const row = make("tr");
      if (taken && cells[0] === taken) row.className = "taken";
      for (const text of cells) row.append(text ? make("td", text) : blank("td"));
      body.append(row);
    }
    table.append(top, body);
    return table;
  }

  // --- begin -----------------------------------------------------------------------------------
  function begin() {
    byId("title").textContent = data.title;
    byId("caution").textContent = data.caution;
    for (const [words, pace] of data.paces) speed.append(make("option", words, { value: pace }));
    speed.value = String(data.paces[1][1]);
    layBoard();
    put(make("h2", data.title));
    if (data.situation) put(make("blockquote", data.situation));
    put(make("h3", "Objectives"), list(data.objectives), button("Begin", goOn));
    put(make("h3", "Rules of this unit"), list(data.rules));
    draw();
    focusPanel();
  }
  play.addEventListener("click", () => setPlaying(!state.playing));
  byId("present").addEventListener("click", () => { state.shown = state.present; draw(); });
  time.addEventListener("input", () => {
    state.playing = false;
    state.shown = Math.min(Number(time.value), state.present);
    draw();
  });
  document.addEventListener("keydown", (event) => {
    const free = [document.body, panel].includes(document.activeElement) &&
      !document.body.classList.contains("wash");
    if (event.key === " " && free) { event.preventDefault(); setPlaying(!state.playing); }
  });
  begin();
})();
