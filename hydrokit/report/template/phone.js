"use strict";
// What one look at the plant says: every fault, size and place of the table is weighed by how well
// it foretells the reading. The same sums as in hydrokit/running/weighing.py, for one look.
const table = JSON.parse(document.getElementById("table").textContent);
const bytes = (text) => Uint8Array.from(atob(text), (each) => each.charCodeAt(0));
const rows = {};
for (const [name, kind] of [["fault", Uint8Array], ["which", Uint8Array], ["size", Float32Array],
    ["prior", Float32Array], ["pressure", Int16Array], ["power", Int16Array], ["wide_p", Uint16Array],
    ["wide_w", Uint16Array], ["tied", Int8Array], ["under_fed", Uint16Array]]) {
  rows[name] = new kind(bytes(table.rows[name]).buffer);
}
const many = rows.fault.length;
const wide = (code, least) => least * Math.exp((code / 65535) * Math.log(table.widest));
const underFedAt = (at) => Math.exp((rows.under_fed[at] / 65535) * Math.log(table.seldom));
const underFeeds = (row) => table.faults[rows.fault[row]].under_feeds;

// Share of the healthy watts behind their logarithm, which knows no less than the floor.
const given = (log) => (log <= Math.log(table.floor) + 1e-3 ? 0 : Math.exp(log));

function erfc(x) { // W. J. Cody's bounds are met to 1.2e-7: Numerical Recipes' Chebyshev fit, x >= 0
  const t = 1 / (1 + 0.5 * x);
  const sum = [0.17087277, -0.82215223, 1.48851587, -1.13520398, 0.27886807, -0.18628806, 0.09678418,
    0.37409196, 1.00002368].reduce((part, each) => part * t + each, 0);
  return t * Math.exp(-x * x - 1.26551223 + t * sum);
}

function scattered(miss, read) { // the deviations themselves may be larger or smaller
  let sum = 0;
  for (const [factor, chance] of table.scales) {
    sum += chance * Math.exp(-0.5 * miss / (factor * factor)) / factor ** read;
  }
  return Math.log(Math.max(sum, 1e-300));
}

function worse(miss, spare) { // chance of a larger miss: of F with 1 or 2 degrees over those of the scatter
  const nu = table.degrees;
  if (spare === 2) return nu === null ? Math.exp(-miss / 2) : (1 + miss / nu) ** (-nu / 2);
  if (nu === null) return erfc(Math.sqrt(miss / 2));
  const steps = 400, t = Math.sqrt(miss), top = Math.PI / 2; // Student's t, by x = sqrt(nu) tan(angle)
  let all = 0, beyond = 0;
  for (let step = 0; step < steps; step++) {
    const angle = top * (step + 0.5) / steps, part = Math.cos(angle) ** (nu - 1);
    all += part;
    if (Math.sqrt(nu) * Math.tan(angle) > t) beyond += part;
  }
  return beyond / all;
}

function foretold(row, jets) {
  const at = jets * many + row;
  const sdP = wide(rows.wide_p[at], table.least_p), sdW = wide(rows.wide_w[at], table.least_w);
  const underFed = underFedAt(at), fault = table.faults[rows.fault[row]];
  return {
    p: rows.pressure[at] / 12000, w: rows.power[at] / 6000, sdP, sdW, tied: rows.tied[at] / 120,
    spilling: Math.min(0.999, underFed * table.under_fed_seen[0] + (1 - underFed) * fault.spills),
    fluctuates: Math.min(0.999, underFed * table.under_fed_seen[1] + (1 - underFed) * fault.fluctuates),
    falls: fault.falls,
  };
}

// How well a prediction meets the reading: logarithm of its chance, and the squared miss.
function met(p, w, look, told) {
  let log = 0, miss = 0;
  if (p !== null && w !== null) {
    const a = (p - told.p) / told.sdP, b = (w - told.w) / told.sdW, free = 1 - told.tied * told.tied;
    miss = (a * a - 2 * told.tied * a * b + b * b) / free;
    log = scattered(miss, 2) - Math.log(2 * Math.PI * told.sdP * told.sdW * Math.sqrt(free));
  } else if (p !== null) {
    miss = ((p - told.p) / told.sdP) ** 2;
    log = scattered(miss, 1) - Math.log(Math.sqrt(2 * Math.PI) * told.sdP);
  } else if (w !== null) {
    miss = ((w - told.w) / told.sdW) ** 2;
    log = scattered(miss, 1) - Math.log(Math.sqrt(2 * Math.PI) * told.sdW);
  }
  for (const what of look.jets ? ["spilling", "fluctuates"] : ["falls"]) {
    if (look[what] === null || look[what] === undefined) continue;
    log += Math.log(look[what] ? told[what] : 1 - told[what]);
  }
  return { log, miss };
}

// look: {jets, gauge (reader's unit, as shown), watts, spilling, fluctuates, falls}; what was not read is null.
function diagnose(look) {
  const p = look.gauge === null ? null : (look.gauge * table.per_unit - table.zero) / table.static;
  const healthy = table.healthy[look.jets];
  const w = look.watts === null || !look.jets ? null
    : Math.log(Math.max(look.watts, table.floor * healthy + 1e-12) / healthy);
  const read = (p !== null) + (w !== null);
  const states = table.faults.map((fault, place) => ({ fault, place, rows: [], miss: Infinity }));
  const share = table.faults.map(() => 0);
  for (let row = 0; row < many; row++) {
    share[rows.fault[row]] += Math.exp(rows.prior[row]) * underFedAt(look.jets * many + row);
  }
  for (let row = 0; row < many; row++) {
    const told = foretold(row, look.jets);
    const { log, miss } = met(p, w, look, told);
    let prior = rows.prior[row];
    if (underFeeds(row) && look.jets) {
      prior += Math.log(underFedAt(look.jets * many + row) / share[rows.fault[row]]);
    }
    const state = states[rows.fault[row]];
    state.rows.push({ row, log: log + prior, told, prior });
    state.miss = Math.min(state.miss, miss);
  }
  for (const state of states) {
    const top = Math.max(...state.rows.map((each) => each.log));
    const sum = state.rows.reduce((part, each) => part + Math.exp(each.log - top), 0);
    state.evidence = top + Math.log(sum);
    for (const each of state.rows) each.share = Math.exp(each.log - state.evidence);
    const spare = Math.max(read - (state.rows.length > 1), 1);
    state.explains = !read ? 1 : worse(state.miss, spare);
    Object.assign(state, sized(state));
    state.cost = state.rows.reduce((part, each) =>
      part + each.share * healthy * (1 - given(each.told.w)), 0);
  }
  const most = Math.max(...states.map((each) => each.evidence + Math.log(each.fault.prior)));
  let whole = 0;
  for (const state of states) {
    state.probability = Math.exp(state.evidence + Math.log(state.fault.prior) - most);
    whole += state.probability;
  }
  for (const state of states) state.probability /= whole;
  states.sort((a, b) => b.probability - a.probability);
  const first = states[0];
  const best = Math.max(...states.map((each) => (each.probability > 0.001 ? each.explains : 0)));
  const pairs = best >= 0.05 ? [] : pairsOf(p, w, look, states, most, whole);
  const unparted = states.slice(1).filter((each) => first.evidence - each.evidence < Math.log(table.told_apart));
  return { states, first, unparted, pairs, twoAtOnce: pairs.reduce((sum, each) => sum + each.probability, 0) > 0.5, next: nextLook(look, first, unparted[0] || states[1]),
    explained: states.some((each) => each.probability > 0.001 && each.explains >= 0.01) };
}

// Two faults at once, where no single one explains the reading: what each takes is added up.
function pairsOf(p, w, look, states, most, single) {
  const well = states.find((each) => each.fault.key === "well");
  const healthy = well.rows[0].told, found = [];
  const few = new Map(states.map((state) => [state, state.rows.filter((_, place) =>
    place % Math.ceil(state.rows.length / 60) === 0 || place === state.rows.length - 1)]));
  const sick = states.filter((each) => each !== well);
  for (const one of sick) {
    for (const other of sick) {
      if (one.place >= other.place) continue;
      const keys = [one.fault.key, other.fault.key].sort();
      if (table.exclude.some((each) => each[0] === keys[0] && each[1] === keys[1])) continue;
      let sum = 0, top = -Infinity, likeliest = null, all = 0;
      for (const a of few.get(one)) {
        for (const b of few.get(other)) {
          const shown = keys.includes("stuck") ? (one.fault.key === "stuck" ? a : b).told.p
            : Math.max(0, a.told.p + b.told.p - healthy.p);
          const told = { p: shown, w: a.told.w + b.told.w - healthy.w,
            sdP: Math.max(a.told.sdP, b.told.sdP), sdW: Math.max(a.told.sdW, b.told.sdW), tied: a.told.tied,
            spilling: Math.min(a.told.spilling, b.told.spilling),
            fluctuates: Math.max(a.told.fluctuates, b.told.fluctuates), falls: Math.max(a.told.falls, b.told.falls) };
          const share = Math.exp(a.prior + b.prior);
          all += share;
          const log = met(p, w, look, told).log + a.prior + b.prior;
          sum += Math.exp(log);
          if (log > top) [top, likeliest] = [log, [a, b]];
        }
      }
      const evidence = Math.log(Math.max(sum / all, 1e-300));
      const prior = one.fault.prior * other.fault.prior / well.fault.prior;
      const lost = 1 - given(likeliest[0].told.w + likeliest[1].told.w - healthy.w);
      found.push({ faults: [one.fault, other.fault], odds: Math.exp(evidence + Math.log(prior) - most),
        sizes: likeliest.map((each) => rows.size[each.row]), cost: table.healthy[look.jets] * lost });
    }
  }
  const whole = single + found.reduce((sum, each) => sum + each.odds, 0);
  for (const each of found) each.probability = each.odds / whole;
  return found.sort((a, b) => b.odds - a.odds).slice(0, 3).filter((each) => each.probability >= 0.02);
}

function sized(state) { // of one jet, or of each where all have it alike, which is another size
  const all = state.rows.filter((each) => rows.which[each.row] === 0);
  if (state.fault.key !== "worn" || !all.length || all.length === state.rows.length) return within(state, state.rows);
  const alike = all.reduce((sum, each) => sum + each.share, 0);
  const ofAll = within(state, all);
  const each = { size: ofAll.size / table.jets, low: ofAll.low / table.jets, high: ofAll.high / table.jets };
  const one = within(state, state.rows.filter((each) => rows.which[each.row] !== 0));
  return { ...(alike >= 0.9 ? each : one), each: each.size, alike };
}
function within(state, chosen) { // the shortest interval that holds 90 %
  const by = new Map();
  for (const each of chosen) {
    const size = rows.size[each.row];
    by.set(size, (by.get(size) || 0) + each.share);
  }
  const sizes = [...by.keys()].sort((a, b) => a - b);
  const order = sizes.map((_, place) => place).sort((a, b) => by.get(sizes[b]) - by.get(sizes[a]));
  const last = sizes.length - (state.fault.whole ? 1 : 0); // the largest is all of it, and has no width
  const edge = (place) => place <= 0 ? sizes[0] : place >= last ? sizes[sizes.length - 1]
    : (sizes[place - 1] + sizes[place]) / 2;
  const heap = [0];
  for (const size of sizes) heap.push(heap[heap.length - 1] + by.get(size));
  const whole = heap[sizes.length];
  const at = (chance) => { // the size below which so much of the chance lies
    let place = 1;
    while (place < sizes.length && heap[place] < chance * whole) place++;
    const within = heap[place] - heap[place - 1];
    const share = within > 0 ? (chance * whole - heap[place - 1]) / within : 1;
    return edge(place - 1) + Math.min(1, Math.max(0, share)) * (edge(place) - edge(place - 1));
  };
  let low = sizes[0], high = sizes[sizes.length - 1];
  for (let step = 0; step <= 100; step++) {
    const a = at(step / 1000), b = at(Math.min(1, step / 1000 + 0.9));
    if (b - a < high - low) [low, high] = [a, b];
  }
  return { size: sizes[order[0]], low, high };
}

// The least trouble that would tell two states apart, as hydrokit/running/next_step.py has it; the
// errors that two looks share are left out here, so its odds are not told.
function nextLook(look, one, other) {
  const steps = [];
  if (look.jets && look.fluctuates === null) steps.push(["watch the needle for a minute: does it fluctuate?", null, look.jets, "fluctuates"]);
  if (look.jets && look.watts === null && table.watts) steps.push(["read volts and amps", "w", look.jets, null]);
  if (look.gauge === null) steps.push(["read the gauge", "p", look.jets, null]);
  const wait = ", wait until the needle stands, read gauge and watts";
  if (look.jets > 1) steps.push([`close one jet${wait}`, "pw", look.jets - 1, "fluctuates"]);
  if (look.jets < table.jets) steps.push([`open one jet${wait}`, "pw", look.jets + 1, "fluctuates"]);
  if (look.jets) steps.push(["close all jets, slowly, and read the gauge when it stands", "p", 0, null]);
  if (look.falls === null || look.falls === undefined) steps.push(["shut all jets, then the valve at the top of the pipe where there is one, slowly, and watch the needle for five minutes", null, 0, "falls"]);
  if (look.jets && look.spilling === null) steps.push(["walk up and look at the spillway: does it run?", null, look.jets, "spilling"]);
  let best = null;
  for (const [what, reads, jets, seen] of steps) {
    let gain = 0;
    const [a, b] = [one, other].map((state) => mixed(state, jets, seen));
    for (const name of reads || "") {
      const va = a[name].variance, vb = b[name].variance, apart = a[name].mean - b[name].mean;
      gain += 0.25 * (vb / va + va / vb - 2 + apart * apart * (1 / va + 1 / vb));
    }
    if (seen) {
      const p = a.seen, q = b.seen;
      gain += 0.5 * (p - q) * (Math.log(p / q) - Math.log((1 - p) / (1 - q)));
    }
    const found = { what, from: other.fault.name, gain, expect: expected(a, b, jets, reads || "", seen) };
    if (gain >= Math.log(table.told_apart)) return found;
    if (!best || gain > best.gain) best = found;
  }
  return best && best.gain > Math.log(table.worth_doing) ? best : null;
}

const signs = { fluctuates: ["the needle fluctuates", "the needle stands steady"],
  spilling: table.brims, falls: ["the needle falls", "the needle stands"] };
function expected(mine, other, jets, reads, seen) { // what the look would show in either state
  const told = (state) => {
    const parts = [];
    if (reads.includes("p")) parts.push(`${((state.p.mean * table.static + table.zero) / table.per_unit).toFixed(table.decimals)} ${table.unit}`);
    if (reads.includes("w") && jets && table.watts) parts.push(`${number(table.healthy[jets] * Math.exp(state.w.mean), 3)} W`);
    if (seen && Math.max(mine.seen, other.seen) > 0.4) parts.push(signs[seen][state.seen < 0.5 ? 1 : 0]);
    return parts.join(", ");
  };
  return [told(mine), told(other)];
}

function outside(look) { // what lies outside the card's band
  const [low, high, least, most] = table.bands[look.jets], found = [];
  const p = look.gauge === null ? null : look.gauge * table.per_unit - table.zero;
  if (p !== null && low !== null && (p < low || p > high)) found.push("the gauge");
  if (look.watts !== null && least !== null && (look.watts < least || look.watts > most)) found.push("the watts");
  return found;
}

function mixed(state, jets, seen) {
  const out = { p: { mean: 0, variance: 0 }, w: { mean: 0, variance: 0 }, seen: 0 };
  const told = state.rows.map((each) => [each.share, foretold(each.row, jets)]);
  for (const [name, sd] of [["p", "sdP"], ["w", "sdW"]]) {
    for (const [share, each] of told) out[name].mean += share * each[name];
    for (const [share, each] of told) {
      out[name].variance += share * (each[sd] ** 2 + (each[name] - out[name].mean) ** 2);
    }
  }
  if (seen) for (const [share, each] of told) out.seen += share * each[seen];
  return out;
}

// ---- the page
const number = (value, digits) => {
  if (!value) return "0";
  const whole = Number(value.toPrecision(digits));
  return whole.toLocaleString("en-US", { maximumFractionDigits: Math.min(6, Math.max(0, digits - 1 - Math.floor(Math.log10(Math.abs(whole))))) });
};
function sizeWords(state, about) { // about: without its interval
  const kind = state.fault.kind;
  if (!kind) return "";
  const within = about ? "" : `(${(100 * state.low).toFixed(0)} to ${(100 * state.high).toFixed(0)} %) `;
  if (kind === "share") return `${(100 * state.size).toFixed(0)} % ${within}${state.fault.size_is}`;
  const per = kind === "pressure" ? table.per_unit : table.per_head;
  const unit = kind === "pressure" ? table.unit : table.head;
  const under = state.fault.below_zero && state.size < 0;
  const ends = [Math.abs(state.low), Math.abs(state.high)].sort((a, b) => a - b);
  const both = state.fault.below_zero && state.low * state.high < 0;
  const range = both ? "either way" : `${number(ends[0] / per, 2)} to ${number(ends[1] / per, 2)} ${unit}`;
  return `${number(Math.abs(state.size) / per, 2)} ${unit}${about ? "" : ` (${range})`} ${under ? state.fault.below_zero : state.fault.size_is}`;
}
const pairWords = (pair) => pair.faults.map((fault, place) => {
  const size = sizeWords({ fault, size: pair.sizes[place], low: pair.sizes[place], high: pair.sizes[place] }, true);
  return `${fault.name}${size ? ` (about ${size})` : ""}`;
}).join(" and ") + `, ${percent(pair.probability)}`;
const percent = (share) => share > 0.99 ? "more than 99 %" : share < 0.01 ? "less than 1 %" : `${(100 * share).toFixed(0)} %`;
const field = (id) => {
  const text = document.getElementById(id).value.trim().replace(",", ".");
  const value = Number(text);
  return text === "" ? null : Number.isFinite(value) && value >= 0 ? value : NaN;
};
const pressed = (group) => {
  const on = document.querySelector(`[data-group="${group}"] [aria-pressed="true"]`);
  return on ? on.dataset.value : null;
};
const yes = (text) => text === null || text === "" ? null : text === "yes";
const say = (id, text) => { document.getElementById(id).textContent = text; };

function answer() {
  const jets = pressed("jets");
  const look = { jets: Number(jets), gauge: field("gauge"), watts: field("watts"),
    spilling: yes(pressed("spilling")), fluctuates: yes(pressed("fluctuates")), falls: yes(pressed("falls")) };
  document.getElementById("running").hidden = jets === "0";
  document.getElementById("shut").hidden = jets !== "0";
  const [gauge, watts] = jets === null ? ["", ""] : table.expected[look.jets];
  say("expected", jets === null ? "" : `Healthy while ${table.brims[0]}: ${gauge}${watts ? `, ${watts}` : ""}`);
  const wrong = Number.isNaN(look.gauge) || Number.isNaN(look.watts);
  const enough = jets !== null && !wrong && (look.gauge !== null || look.watts !== null || look.spilling !== null || (!look.jets && look.falls !== null));
  document.getElementById("answer").hidden = !enough;
  say("hint", wrong ? "A reading is a number, such as 52.5" : jets === null ? "How many jets are open?" : enough ? "" : "Type what the gauge shows.");
  if (!enough) return;
  const found = diagnose(look), first = found.first;
  const odd = first.fault.key === "well" ? outside(look) : [];
  const two = found.twoAtOnce ? found.pairs : [];
  say("state", two.length ? "two things are wrong at once" : odd.length ? "not clearly healthy" : first.fault.name);
  say("chance", two.length ? `No single state explains this reading. The likeliest: ${two.map(pairWords).join("; or ")}.` : odd.length
    ? `Healthy has a posterior probability of ${percent(first.probability)}, but ${odd.join(" and ")} lie${odd.length === 1 && odd[0] === "the gauge" ? "s" : ""} outside the card's band, as one healthy reading in ten does. Next comes ${found.states[1].fault.name} (${percent(found.states[1].probability)}). Read again.`
    : `Posterior probability ${percent(first.probability)}`);
  say("size", two.length ? "" : sizeWords(first));
  const cost = two.length ? two[0].cost : first.cost;
  say("cost", !look.jets || Math.abs(cost) < 1 ? "" : `${two.length ? "The first two" : "It"} ${cost > 0 ? "cost" : "add"}${two.length ? "" : "s"} ${number(Math.abs(cost), 2)} W`);
  const alike = two.length ? 0 : first.alike || 0;
  say("alike", alike > 0.02 && alike < 0.9 ? table.parts_jets.replace("{one}", (100 * first.size).toFixed(0))
    .replace("{each}", (100 * first.each).toFixed(0)) : "");
  say("others", two.length ? "" : found.unparted.length
    ? `${!first.fault.kind ? "Small ones of these could hide behind it" : "This reading cannot tell it from"}: ${found.unparted.map((each) => each.fault.name).join("; ")}.`
    : "This reading tells it from all others, 20 to 1 or better.");
  say("next", found.next && !two.length ? `Next: ${found.next.what} (to tell it from: ${found.next.from}).${found.next.expect[0] ? ` Expect ${found.next.expect[0]} if it is this; ${found.next.expect[1]} if not.` : ""}` : "");
  say("todo", two.length ? two[0].faults.map((each) => each.action).join(" ") : first.fault.action);
  say("poor", found.explained || two.length ? "" : "No single state known here explains this reading: read again, or two things are wrong at once.");
}
for (const group of document.querySelectorAll("[data-group]")) {
  group.addEventListener("click", (event) => {
    const button = event.target.closest("button");
    if (!button) return;
    const was = button.getAttribute("aria-pressed") === "true";
    for (const each of group.querySelectorAll("button")) each.setAttribute("aria-pressed", "false");
    button.setAttribute("aria-pressed", String(!was || group.dataset.group === "jets"));
    answer();
  });
}
for (const id of ["gauge", "watts"]) document.getElementById(id).addEventListener("input", answer);
answer();
