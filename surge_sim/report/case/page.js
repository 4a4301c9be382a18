"use strict";
// Words of files come from the data and are put in place as text, never as markup.
(() => {
  const data = JSON.parse(document.getElementById("data").textContent);
  const byId = (id) => document.getElementById(id);
  const { stages, waits, levels, shares, target } = data;
  const surges = data.entries.length;
  const most = stages[stages.length - 1].money;
  const asked = { wait: target.wait, level: target.level, share: target.share };
  const state = { money: stages[data.proposed].money, ...asked };

  // --- numbers as they are printed: the same rules as in the document ---------------------------
  function fixed(value, digits) {
    const size = 10 ** digits, scaled = value * size, below = Math.floor(scaled);
    const even = scaled - below === 0.5 ? below + (below % 2) : Math.round(scaled);
    return (even / size).toFixed(digits);
  }
  const parted = (text) => text.replace(/^(-?\d+)/, (whole) =>
    whole.replace(/\B(?=(\d{3})+$)/g, ","));
  function percent(share, roughly) {
    if (share === 0 || share === 1) return String(100 * share);
    const edge = Math.min(share, 1 - share);
    if (roughly && edge >= 0.01) return fixed(100 * share, 0);
    for (const digits of [1, 2]) {
      const shown = fixed(100 * share, digits);
      if (edge >= 0.01 || (Number(shown) > 0 && Number(shown) < 100)) return shown;
    }
    return share < 0.5 ? "under 0.01" : "over 99.99";
  }
  // a limit does not round to the share that is asked for
  function limitNumber(limit, share) {
    const plain = Math.abs(limit - share) >= 0.01 || [0, 1, share].includes(limit);
    if (plain) return percent(limit, true);
    const shown = fixed(100 * limit, 1), asks = Number(fixed(100 * share, 9));
    return Number(shown) === asks ? `${limit > share ? "over" : "under"} ${asks}` : shown;
  }
  function count(value) {
    if (value === Math.round(value)) return parted(String(value));
    if (value < 0.01) return "under 0.01";
    return parted(fixed(value, value < 9.995 ? 2 : value < 99.95 ? 1 : 0));
  }
  const mean = (values) => values.reduce((sum, one) => sum + one, 0) / values.length;

  // --- how sure a share of surges is: the test by betting with which the sizing tests ------------
  function atRisk(share) {
    const size = (2 * Math.log(1 / (1 - data.confidence))) / data.block_end;
    return [(size * share) / (1 - share), (size * (1 - share)) / share]
      .map((one) => Math.min(Math.sqrt(one), 0.75));
  }
  const stake = (won, lost, risk, p) =>
    won * Math.log1p((risk * (1 - p)) / p) + lost * Math.log1p(-risk);
  const bar = () => Math.log(1 / (1 - data.confidence));
  function reached(won, lost, risk) {
    let [low, high] = [1e-12, 1];
    if (stake(won, lost, risk, low) <= bar()) return 0;
    for (let turn = 0; turn < 60; turn += 1) {
      const middle = (low + high) / 2;
      if (stake(won, lost, risk, middle) > bar()) low = middle; else high = middle;
    }
    return low;
  }
  function judged(met, share) {
    const missed = surges - met;
    if (data.confidence === null) {
      const enough = met >= share * surges - 1e-9;
      return { low: null, high: null, verdict: enough ? "met here" : "not met here" };
    }
    const [u, v] = atRisk(share);
    const above = stake(met, missed, u, share) >= bar();
    const below = stake(missed, met, v, 1 - share) >= bar();
    return {
      low: met ? reached(met, missed, u) : 0,
      high: missed ? 1 - reached(missed, met, v) : 1,
      verdict: above ? "shown to meet it" : below ? "shown to miss it" : "undecided",
    };
  }

  function tooFew() {
    if (data.confidence === null) return false;
    const share = shares[state.share].share;
    return stake(surges, 0, atRisk(share)[0], share) < bar();
  }

  // --- a stage at a target ------------------------------------------------------------------------
  const allowed = (entries, share) => Math.floor(entries * (1 - share) + 1e-9);
  const isAsked = () => ["wait", "level", "share"].every((name) => state[name] === asked[name]);
  const looser = () => state.wait >= asked.wait && state.level <= asked.level
    && state.share <= asked.share && !isAsked();
  const stricter = () => state.wait <= asked.wait && state.level >= asked.level
    && state.share >= asked.share && !isAsked();
  // a stock that meets the target meets every looser one; one that misses it, misses every stricter
  function implied(stage) {
    if (data.confidence === null) return null;
    const { verdict } = stage.sized;
    if (looser() && verdict === "confirmed") return "confirmed (follows from the confirmed target)";
    if (stricter() && verdict === "not met") return "not met (follows from the target of the request)";
    return null;
  }
  function look(stage) {
    const late = stage.late[state.wait], level = levels[state.level].share;
    const met = late.filter((one, surge) =>
      one <= allowed(data.entries[surge], level) && !stage.other_missed[surge]).length;
    const found = {
      met, of: surges, ...judged(met, shares[state.share].share),
      late: `${percent(mean(late) / mean(data.entries))} %`,
      worst: `${percent(mean(stage.worst[state.wait]) / data.share_unit)} %`,
      urgent: count(mean(stage.urgent[target.urgent === null ? state.wait : target.urgent])),
      hours: stage.hours,
    };
    found.verdict = implied(stage) ?? found.verdict;
    found.share = found.met / found.of;
    found.said = `${parted(String(met))} of ${parted(String(surges))}`;
    if (found.low !== null) {
      const [low, high] = [found.low, found.high]
        .map((one) => limitNumber(one, shares[state.share].share));
      found.said += ` (${low} to ${high} %)`;
    }
    if (!isAsked()) return found;
    const { met: said, surges_on_target: passes, surges: tested, ...sized } = stage.sized;
    return { ...found, ...sized, said, met: passes, of: tested, share: passes / Math.max(tested, 1) };
  }
  // a verdict without where it comes from
  const plain = (one) => one.verdict.split(" (")[0];
  const good = (one) => ["confirmed", "shown to meet it", "met here"].includes(plain(one));
  function within(money) {
    let place = 0;
    stages.forEach((stage, other) => { if (stage.money <= money + 1e-6) place = other; });
    return place;
  }

  // --- words ---------------------------------------------------------------------------------------
  function make(tag, text, attributes = {}) {
    const one = document.createElement(tag);
    if (text !== undefined && text !== null) one.textContent = text;
    for (const [name, value] of Object.entries(attributes)) one.setAttribute(name, value);
    return one;
  }
  const money = (amount) => parted(amount >= 1000 ? fixed(amount, 0)
    : fixed(amount, 2).replace(/\.?0+$/, ""));
  function targetWords() {
    const wait = waits[state.wait].words, level = levels[state.level].words;
    const said = data.by_delay ? `are served ${wait} or less later than with ample stock`
      : `wait ${wait} or less`;
    const where = data.alike ? "" : `in ${shares[state.share].words} of ${data.plays}, `;
    const more = data.more ? "; the other parts of the target stay as they are" : "";
    return `${where}${level} of entries ${said}${more}`;
  }
  function say(place, seen) {
    const stage = stages[place], one = seen[place], first = seen.findIndex(good);
    const asks = targetWords();
    const said = [`Target: ${asks}.`], next = stages[place + 1];
    const left = state.money > stage.money + 1e-6 && next
      ? `Of the ${money(state.money)} ${data.currency} set, ${place ? money(stage.money) : "nothing"} `
        + `are spent, since the next stage costs ${money(next.money)}. ` : "";
    said.push(`${left}${place ? `For ${stage.price}` : "Nothing bought"}: `
      + `${stage.words}. ${data.plays[0].toUpperCase()}${data.plays.slice(1)} that meet the target: `
      + `${one.said}; ${one.verdict}.`);
    said.push(`Late: ${one.late} of entries, on the worst day ${one.worst}. `
      + `Waited: ${one.hours} hours ${data.per}, all people together.`);
    const what = data.confidence === null ? "meets it here"
      : isAsked() ? "is confirmed" : "is shown to meet it";
    said.push(first < 0 ? `No stage of this table ${what}.`
      : `The first stage that ${what} costs ${stages[first].price}.`);
    if (data.leave && waits[state.wait].s >= data.leave.s) {
      said.push(`People leave the queue ${data.leave.words} and count as late, however long a wait `
        + "is in time.");
    }
    if (looser()) {
      said.push("This asks for less than the request does: a decision on care, not a saving.");
    }
    byId("result").replaceChildren(...said.map((text, row) => make("p", text, row ? {} : { class: "asks" })));
  }
  function sayMeaning() {
    const sure = data.confidence === null ? ""
      : ` Limits in brackets hold with ${fixed(100 * data.confidence, 0)} % confidence, each by `
      + "itself wherever its test stops. The test is made to decide about the share that is asked for: "
      + "far from it its limits are wide."
      + (isAsked() ? " All verdicts 'confirmed' hold together." : " 'Confirmed' is said only of "
        + "the target that was sized and of what follows from it: among many targets that are tried, "
        + "one will look good by random variation.");
    byId("meaning").textContent = isAsked()
      ? `This is the target of the request: verdicts and shares are those of the sizing. Late `
        + `entries, hours and the worst day are means over the same ${surges} ${data.plays}.${sure}`
      : `Counted here from the same ${surges} ${data.plays}; the sizing did not test this target, `
        + `and only these stages are looked at.${sure}`;
    if (!isAsked() && tooFew()) {
      byId("meaning").append(` ${surges} ${data.plays} are too few to show so large a share, `
        + "however many meet the target.");
    }
    const parts = [`wait=${waits[state.wait].words.replace(/ /g, "")}`,
      `service_level=${levels[state.level].words.replace(/ /g, "")}`,
      `share_of_surges=${shares[state.share].words.replace(/ /g, "")}`];
    byId("again").replaceChildren();
    if (isAsked()) return;
    // an option is not broken at its hyphens
    const command = make("code");
    for (const word of ["surge-sim", "size", `"${data.file}"`, "--target", parts.join(",")]) {
      command.append(make("span", word), " ");
    }
    byId("again").append("Of all stocks, the cheapest that meets this target, from where the "
      + "folder of the sizing lies: ", command);
  }

  // --- the table ------------------------------------------------------------------------------------
  const heads = [
    ["Buy, beyond the row above", "words"], ["Verdict", "verdict words"],
    [`${data.cost_head} (${data.currency})`, ""], ["Meets the target in", ""], ["Late entries", ""],
    ["Hours waited", ""], ["Late on the worst day", ""],
    ...(data.has_urgent ? [["Late urgent entries", ""]] : []),
    ["Kits", ""], ["Batteries", ""], ["Bays", ""],
  ];
  function layTable() {
    const head = make("thead"), row = make("tr"), body = make("tbody");
    byId("stages").append(make("caption", "Stages of buying, each with more than the one before",
      { class: "unseen" }), head, body);
    for (const [text, look] of heads) row.append(make("th", text, { scope: "col", class: look }));
    head.append(row);
    for (const [place, stage] of stages.entries()) {
      const one = make("tr"), name = make("th", null, { scope: "row", class: "words" });
      const mark = place && place === data.proposed ? ": then as requested" : "";
      const plus = place ? "+ " : "";
      const choose = make("button", `${plus}${stage.bought}${mark}`, { type: "button" });
      choose.addEventListener("click", () => {
        state.money = stage.money;
        draw();
        byId("result").scrollIntoView({ block: "nearest" });
      });
      name.append(choose);
      one.append(name, ...heads.slice(1).map(([, look]) => make("td", null, { class: look })));
      body.append(one);
    }
  }
  function drawTable(chosen, seen) {
    byId("stages").querySelectorAll("tbody tr").forEach((row, place) => {
      const stage = stages[place], one = seen[place];
      const cells = [one.verdict, stage.money_words, one.said, one.late, one.hours, one.worst,
        ...(data.has_urgent ? [one.urgent] : []), ...stage.counts];
      row.querySelectorAll("td").forEach((cell, column) => { cell.textContent = cells[column]; });
      row.classList.toggle("chosen", place === chosen);
      row.querySelector("button").setAttribute("aria-pressed", String(place === chosen));
    });
  }

  // --- the curve of money against service ----------------------------------------------------------
  const SVG = "http://www.w3.org/2000/svg";
  const LOOKS = { confirmed: "good", "shown to meet it": "good", "met here": "good",
    "not met": "bad", "ruled out": "bad", "shown to miss it": "bad", "not met here": "bad" };
  function drawCurve(chosen, seen) {
    const width = Math.max(320, Math.min(byId("curve").clientWidth || 440, 760)), height = 280;
    const [left, right, top, floor] = [48, width - 16, 14, height - 46];
    const x = (value) => left + ((right - left) * value) / (most || 1);
    const y = (share) => floor - (floor - top) * share;
    const picture = document.createElementNS(SVG, "svg");
    picture.setAttribute("viewBox", `0 0 ${width} ${height}`);
    picture.setAttribute("role", "img");
    const add = (tag, attributes, text) => {
      const one = document.createElementNS(SVG, tag);
      for (const [name, value] of Object.entries(attributes)) one.setAttribute(name, value);
      if (text !== undefined) one.textContent = text;
      picture.append(one);
    };
    for (const share of [0, 0.2, 0.4, 0.6, 0.8, 1]) {
      add("path", { class: "grid", d: `M${left} ${y(share)}H${right}` });
      add("text", { x: left - 6, y: y(share) + 4, class: "end" }, `${Math.round(100 * share)} %`);
    }
    const rough = (most || 1) / 4, size = 10 ** Math.floor(Math.log10(rough));
    const step = [1, 2, 5, 10].map((one) => one * size).find((one) => one >= rough);
    for (let mark = 0; mark <= most * 1.0001; mark += step) {
      add("path", { class: "axis", d: `M${x(mark)} ${floor}v4` });
      const side = x(mark) > right - 24 ? "end" : "middle";
      add("text", { x: x(mark), y: floor + 18, class: side }, money(mark));
    }
    add("path", { class: "axis", d: `M${left} ${floor}H${right}` });
    add("text", { x: (left + right) / 2, y: height - 6, class: "middle name" },
      `cost so far, ${data.currency.slice(0, 30)}`);
    if (!data.alike) {
      const asks = y(shares[state.share].share);
      add("path", { class: "limit", d: `M${left} ${asks}H${right}` });
      // where the curve is not: it begins at the left, and rises
      const below = seen[0].share > shares[state.share].share - 0.15;
      add("text", { x: left + 10, y: below ? asks + 17 : asks - 5, class: "halo" },
        `asked for: ${shares[state.share].words}`);
    }
    add("path", { class: "spend", d: `M${x(Math.min(state.money, most))} ${top}V${floor}` });
    add("path", { class: "join", d: `M${seen.map((one, place) =>
      `${x(stages[place].money)} ${y(one.share)}`).join("L")}` });
    seen.forEach((one, place) => {
      const [at, middle] = [x(stages[place].money), y(one.share)];
      const look = LOOKS[plain(one)] || "open";
      if (one.low !== null && data.confidence !== null) {
        add("path", { class: "reach", d: `M${at} ${y(one.low)}V${y(one.high)}m-4 0h8M${at - 4} ${y(one.low)}h8` });
      }
      const shape = { good: `M${at} ${middle}m-6 0a6 6 0 1 0 12 0a6 6 0 1 0 -12 0`,
        open: `M${at - 5} ${middle - 5}h10v10h-10z`,
        bad: `M${at - 5} ${middle - 5}l10 10m0 -10l-10 10` }[look];
      add("path", { class: `point ${look}`, d: shape });
      if (place === chosen) add("circle", { class: "ring", cx: at, cy: middle, r: 11 });
    });
    const words = `Share of ${data.plays} that meet the target, by money spent: `
      + "circles are stages that meet it, squares are undecided, crosses miss it; the ring is "
      + "what the money buys.";
    picture.setAttribute("aria-label", `${words} The same numbers stand in the table below.`);
    byId("curve").replaceChildren(picture);
    byId("curve-said").textContent = words;
  }

  // --- controls -----------------------------------------------------------------------------------
  const choices = { wait: waits, level: levels, share: shares };
  function gap() {
    // the largest step that reaches every stage exactly; fine steps where there is none
    let step = 0;
    for (const { money: amount } of stages) {
      if (!Number.isInteger(amount)) return "any";
      let [a, b] = [step, amount];
      while (b) [a, b] = [b, a % b];
      step = a;
    }
    return step && most / step <= 2000 ? step : "any";
  }
  function draw() {
    const seen = stages.map(look), chosen = within(state.money);
    byId("money").value = state.money;
    byId("money-said").textContent = `${money(state.money)} ${data.currency}`;
    byId("money").setAttribute("aria-valuetext", `${money(state.money)} ${data.currency}: ${stages[chosen].words}`);
    for (const [name, list] of Object.entries(choices)) {
      byId(name).value = state[name];
      byId(`${name}-said`).textContent = list[state[name]].words;
      byId(name).setAttribute("aria-valuetext", list[state[name]].words);
    }
    drawTable(chosen, seen);
    drawCurve(chosen, seen);
    say(chosen, seen);
    sayMeaning();
    showWide();
  }
  // what is wider than the screen says that there is more
  function showWide() {
    for (const one of document.querySelectorAll(".wide")) {
      one.classList.toggle("more", one.scrollWidth > one.clientWidth + 1);
    }
  }
  function begin() {
    byId("explore").hidden = false;
    for (const one of document.querySelectorAll(".without-script")) one.hidden = true;
    byId("money").max = most;
    byId("money").step = gap();
    byId("money").disabled = stages.length < 2;
    for (const [name, list] of Object.entries(choices)) byId(name).max = list.length - 1;
    for (const name of ["money", "wait", "level", "share"]) {
      byId(name).addEventListener("input", () => {
        state[name] = Number(byId(name).value);
        draw();
      });
    }
    if (data.alike) {
      for (const one of [byId("share"), byId("share-said"), byId("share").labels[0]]) one.hidden = true;
    }
    byId("reset").addEventListener("click", () => {
      Object.assign(state, asked, { money: stages[data.proposed].money });
      draw();
    });
    layTable();
    draw();
    let drawn = 0;
    window.addEventListener("resize", () => {
      cancelAnimationFrame(drawn);
      drawn = requestAnimationFrame(draw);
    });
    // paper shows what a reader has not opened
    let shut = [];
    window.addEventListener("beforeprint", () => {
      shut = [...document.querySelectorAll("section > details:not([open])")];
      for (const one of shut) one.open = true;
    });
    window.addEventListener("afterprint", () => { for (const one of shut) one.open = false; });
  }
  begin();
})();
