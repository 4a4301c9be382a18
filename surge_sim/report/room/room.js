"use strict";
// All words come from the data; they are put in place as text, never as markup.
(() => {
  const data = JSON.parse(document.getElementById("data").textContent);
  const byId = (id) => document.getElementById(id);
  const [board, panel, time, play, speed] = ["board", "panel", "time", "play", "speed"].map(byId);
  const state = { choices: [], shown: 0, present: 0, playing: false, waiting: true, told: false };
  // of each decision the numbers of the choices that the group's own rules forbid
  const struck = data.moments.map(() => new Set());
  const numbers = new Map();
  const orders = document.createElement("p");
  let discussion = null;
  // the hot wash, once it has been shown: what was written there stays
  let washed = null;

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
    const seen = Object.entries(branch.seen).map(([key, row]) => [key, row[place]]);
    const [, onOrder] = branch.orders.filter(([from]) => from <= place).pop();
    return { ...Object.fromEntries(seen), onOrder };
  }

  // --- the board -----------------------------------------------------------------------------
  function layBoard() {
    for (const group of data.board) {
      board.append(make("h2", group.name));
      const lines = make("dl");
      for (const { key, words, if_any: ifAny, bar: hasBar } of group.items) {
        const [number, bar] = [make("dd"), make("div", null, { class: "bar" })];
        const cell = make("dd", null, { class: "cell", "aria-hidden": "true" });
        const name = make("dt", words);
        cell.append(bar);
        lines.append(name, number, cell);
        const row = [number, name, cell];
        const most = hasBar ? group.most : 0;
        numbers.set(key, { row, ifAny, bar, most });
      }
      board.append(lines);
    }
    if (data.on_order) board.append(make("h2", data.on_order), orders);
  }
  function draw() {
    const seen = look(state.shown);
    for (const [key, one] of numbers) {
      one.row[0].textContent = String(seen[key]);
      for (const part of one.row) part.hidden = one.ifAny && !seen[key];
      const share = one.most ? Math.min(seen[key] / one.most, 1) : 0;
      one.bar.style.width = `${100 * share}%`;
    }
    orders.textContent = seen.onOrder;
    byId("clock").textContent = clock(state.shown);
    const past = state.shown < state.present;
    document.body.classList.toggle("past", past);
    byId("back").textContent = past
      ? `You look back to ${clock(state.shown)}. It is ${clock(state.present)}: press Now.`
      : state.told ? data.before_news : "";
    time.max = state.present;
    time.value = state.shown;
    time.setAttribute("aria-valuetext", clock(state.shown));
    play.textContent = state.playing ? "Pause" : "Play";
    drawCharts();
    play.disabled = state.waiting && state.shown >= state.present;
  }

  // --- what was seen until the present ---------------------------------------------------------
  const SVG = "http://www.w3.org/2000/svg";
  const [WIDE, LEFT, TOP, FLOOR] = [330, 26, 6, 66];
  const charts = [];
  function drawn(tag, attributes, text) {
    const one = document.createElementNS(SVG, tag);
    for (const [name, value] of Object.entries(attributes)) one.setAttribute(name, value);
    if (text !== undefined) one.textContent = text;
    return one;
  }
  function layCharts() {
    const all = make("div", null, { class: "charts" });
    put(make("h3", "Seen until now; dashed lines are your decisions"), all);
    for (const [key, label] of data.charts) {
      const figure = make("figure", null, { class: "seen" });
      const picture = drawn("svg", { viewBox: `0 0 ${WIDE} 84`, "aria-hidden": "true" });
      const caption = make("figcaption");
      figure.append(caption, picture);
      all.append(figure);
      charts.push({ key, label, picture, caption });
    }
  }
  // Days, or hours of the clock, no more than fit below a chart.
  function ticks(until) {
    const sizes = data.days ? [1, 2, 4, 7].map((one) => one * 86400)
      : [1, 2, 3, 6].map((one) => one * 3600);
    const step = sizes.find((one) => until / one <= 6) || sizes[3];
    const all = [];
    for (let at = 0; at <= until; at += step) {
      const named = data.days ? `day ${at / 86400 + 1}` : clock(at).slice(-5);
      all.push([at, named]);
    }
    return all;
  }
  function drawCharts() {
    const until = Math.max(state.present, 1);
    const x = (at) => LEFT + ((WIDE - LEFT - 20) * at) / until;
    for (const { key, label, picture, caption } of charts) {
      const seen = [];
      for (let made = 0; made <= state.choices.length; made += 1) {
        const branch = branchOf(made);
        branch.at.forEach((at, place) => {
          if (at <= state.present) seen.push([at, branch.seen[key][place]]);
        });
      }
      const most = Math.max(...seen.map(([, value]) => value));
      const y = (value) => FLOOR - ((FLOOR - TOP) * value) / Math.max(most, 1);
      const parts = [drawn("path", { class: "axis", d: `M${LEFT} ${FLOOR}H${WIDE - 20}` })];
      for (const [value, at] of most ? [[0, FLOOR], [most, TOP]] : [[0, FLOOR]]) {
        parts.push(drawn("text", { x: LEFT - 4, y: at + 4, "text-anchor": "end" }, String(value)));
      }
      for (const [at, named] of ticks(until)) {
        parts.push(drawn("path", { class: "axis", d: `M${x(at)} ${FLOOR}v4` }));
        parts.push(drawn("text", { x: x(at), y: FLOOR + 15, "text-anchor": "middle" }, named));
      }
      for (let made = 1; made <= state.choices.length; made += 1) {
        parts.push(drawn("path", { class: "made", d: `M${x(branchOf(made).from)} ${TOP}V${FLOOR}` }));
      }
      const line = seen.map(([at, value]) => `${x(at).toFixed(1)} ${y(value).toFixed(1)}`);
      parts.push(drawn("path", { class: "line", d: `M${line.join("L")}` }));
      picture.replaceChildren(...parts);
      caption.textContent = `${label}: ${seen[seen.length - 1][1]} now, ${most} at most`;
    }
  }

  // --- the clock -----------------------------------------------------------------------------
  let last = 0;
  function tick(now) {
    if (!state.playing) return;
    const passed = Math.min((now - last) / 1000, 0.25);
    last = now;
    // each stretch takes as long on the wall, however long it is
    const branch = branchAt(state.shown);
    const pace = (branch.shown_to - branch.from) / Number(speed.value);
    state.shown = Math.min(state.shown + passed * pace, present().shown_to);
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
    else put(button("Hot wash", () => (washed ? showWash(washed) : wash())));
    layCharts();
    const told = branchOf(made).story;
    if (told.length) put(make("h3", "The story of one entry"), story(told));
    focusPanel();
  }
  function goOn() {
    if (discussion) clearInterval(discussion);
    discussion = null;
    state.waiting = state.told = false;
    state.shown = state.present;
    clear();
    put(make("h2", "The surge goes on"));
    const made = state.choices.length;
    if (made) put(make("p", `You chose: ${chosenName(made - 1)}.`), ...conditions(made - 1));
    layCharts();
    setPlaying(true);
    play.focus();
  }
  const chosen = (made) => data.moments[made].choices[state.choices[made]];
  function conditions(made) {
    const words = chosen(made).with_result;
    return words ? [make("p", words, { class: "condition" })] : [];
  }
  const chosenName = (made) => chosen(made).name;

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
    const until = made < data.moments.length ? clock(branch.shown_to) : "the end";
    put(make("h2", `From ${clock(branch.from)} until ${until}`));
    if (made) {
      const all = state.choices.map((_, place) => `“${chosenName(place)}”`);
      put(make("p", `With ${all.join(", ")}:`), ...state.choices.flatMap((_, at) => conditions(at)));
    }
    put(make("p", branch.came));
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
      label.append(radio, make("b", `${place + 1}. ${choice.name}`));
      if (choice.condition) label.append(make("em", choice.condition));
      label.append(make("span", choice.words));
      choices.append(label);
      choices.append(strike(made, place, label, radio, sure));
    });
    const act = make("div", null, { class: "act" });
    act.append(sure);
    form.append(choices, act);
    form.addEventListener("submit", (event) => {
      event.preventDefault();
      const taken = form.querySelector("input[type=radio]:checked");
      if (!taken) return;
      state.choices.push(Number(taken.value));
      goOn();
    });
    state.told = true;
    put(make("h2", moment.title), make("blockquote", moment.read), discuss(moment), form, rules());
    draw();
    focusPanel();
  }
  // What the group's own rules forbid cannot be chosen, and the hot wash says nothing of it;
  // one choice stays open.
  function strike(made, place, choice, radio, sure) {
    const label = make("label", null, { class: "strike" });
    const box = make("input", null, { type: "checkbox" });
    box.addEventListener("change", () => {
      if (box.checked) struck[made].add(place);
      else struck[made].delete(place);
      radio.disabled = box.checked;
      if (box.checked && radio.checked) {
        radio.checked = false;
        sure.disabled = true;
      }
      choice.classList.toggle("struck", box.checked);
      const isLast = struck[made].size + 1 === data.moments[made].choices.length;
      for (const one of panel.querySelectorAll(".strike input")) {
        one.disabled = isLast && !one.checked;
      }
    });
    label.append(box, `Our rules forbid choice ${place + 1}: strike it out`);
    return label;
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
    const taken = state.choices.map((choice) => choice + 1).join("-");
    const told = data.wash[taken];
    put(make("h2", "Hot wash"), make("p", data.permits_nothing, { class: "first" }));
    put(make("p", told.short, { class: "short" }));
    put(make("h3", "How hard this surge was"), make("p", told.hard));
    put(...told.ran_out.map((words) => make("p", words)));
    told.decisions.forEach((one, made) => {
      const gone = [...struck[made]].sort((a, b) => a - b), choices = data.moments[made].choices;
      const open = choices.filter((choice, place) => choice.with_result && !gone.includes(place));
      const against = one.against.filter(({ choice }) => !gone.includes(choice));
      put(make("h3", one.name));
      put(...open.map(({ name, with_result: words }) =>
        make("p", `“${name}”: ${words}`, { class: "condition" })));
      if (!against.length) put(make("p", data.alone.replace("{}", chosenName(made))));
      against.forEach(({ sentence, table, picture }, place) => {
        const part = make("section", null, { class: "decision" }), said = make("div");
        said.append(make("p", sentence), tableOf(table));
        const figure = make("figure");
        const source = `data:image/svg+xml,${encodeURIComponent(picture)}`;
        figure.append(make("img", null, { src: source, alt: sentence }));
        if (!made && !place) figure.append(make("figcaption", data.legend));
        part.append(said, figure);
        put(part);
      });
      put(...gone.map((place) => make("p", data.struck.replace("{}", choices[place].name))));
    });
    const forbidden = (path) => path.split("-").some((one, made) => struck[made].has(one - 1));
    const kept = data.path_names.map((path) => path === taken || !forbidden(path));
    const rows = data.paths.rows.filter((_, place) => kept[place]);
    const mine = data.paths.rows[data.path_names.indexOf(taken)];
    // behind a fold: it is no ranking of groups
    const fold = make("details");
    fold.append(make("summary", data.every_path), tableOf({ head: data.paths.head, rows }, mine));
    put(fold);
    put(list(data.reading));
    report(told.facts);
    const ends = make("p", null, { class: "ends" });
    ends.append(button("Print", () => print()), button("Back to the board", leaveWash, false));
    ends.append(button("Begin again", () => {
      if (confirm("Begin again? All that is written here is lost.")) location.reload();
    }, false));
    put(ends);
    focusPanel();
  }
  function leaveWash() {
    washed = [...panel.childNodes];
    document.body.classList.remove("wash");
    arrive();
    draw();
  }
  function showWash(nodes) {
    document.body.classList.add("wash");
    clear();
    put(...nodes);
    focusPanel();
  }
  // What is empty is a space to write in, here or on paper.
  function blank(tag) {
    const one = make(tag), paper = make("div", "", { role: "textbox", "aria-label": "write here" });
    paper.contentEditable = "true";
    one.append(paper);
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
      if (cells === taken) row.className = "taken";
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
    put(button("Begin", goOn));
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
  time.addEventListener("keydown", (event) => {
    const [step, more] = data.steps_s;
    const by = { ArrowLeft: -step, ArrowDown: -step, ArrowRight: step, ArrowUp: step,
      PageDown: -more, PageUp: more }[event.key];
    if (!by) return;
    event.preventDefault();
    state.playing = false;
    state.shown = Math.max(0, Math.min(Math.round(state.shown) + by, state.present));
    draw();
  });
  // A sign that there is more below; the panel changes with every step.
  const more = byId("more");
  const seeMore = () => {
    more.hidden = panel.scrollHeight - panel.scrollTop - panel.clientHeight < 12;
  };
  panel.addEventListener("scroll", seeMore);
  addEventListener("resize", seeMore);
  new MutationObserver(seeMore).observe(panel,
    { childList: true, subtree: true, attributes: true, attributeFilter: ["open"] });
  document.addEventListener("keydown", (event) => {
    const free = [document.body, panel].includes(document.activeElement) &&
      !document.body.classList.contains("wash");
    if (event.key === " " && free) { event.preventDefault(); setPlaying(!state.playing); }
  });
  begin();
})();
