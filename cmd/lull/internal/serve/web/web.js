// The pages work without this script; it shows how far a drop is, sorts and walks
// the tables, opens episodes and standstills in place and reads values off their
// pictures. What it shows is kept in the address. Nothing from a log or a map is ever
// put into the page other than as text.
"use strict";

const body = document.body.dataset;

// Drops.

// send gives a form to the server and follows what it says, one JSON object a line.
function send(form, data) {
  const told = form.querySelector(".told");
  const bar = told.querySelector("progress");
  const words = told.querySelector("[role=status]");
  const stop = told.querySelector(".stop");
  const trouble = form.querySelector(".trouble");
  const request = new XMLHttpRequest();
  let done = 0; // characters of the answer that were read
  let place = "";
  const buttons = form.querySelectorAll("button[type=submit]");
  const end = (text) => {
    told.hidden = true;
    buttons.forEach((b) => { b.disabled = false; });
    form.classList.remove("busy");
    trouble.textContent = text;
  };
  const say = (text) => { if (words.textContent !== text) words.textContent = text; };
  trouble.textContent = "";
  told.hidden = false;
  form.classList.add("busy");
  buttons.forEach((b) => { b.disabled = true; });
  bar.removeAttribute("value");
  say("sending");
  stop.onclick = () => { request.abort(); end("stopped"); };
  request.upload.onprogress = (e) => {
    if (e.lengthComputable) bar.value = 0.5 * e.loaded / e.total;
  };
  request.upload.onload = () => say("reading");
  const read = () => {
    const text = request.responseText;
    for (let at = text.indexOf("\n", done); at >= 0; at = text.indexOf("\n", done)) {
      const line = text.slice(done, at);
      done = at + 1;
      let told;
      try { told = JSON.parse(line); } catch { continue; }
      if (told.at) place = told.at;
      else if (told.error) end(told.error);
      else if (told.before) say(told.before === 1 ? "one drop is measured first" : told.before + " drops are measured first");
      else if (told.part) { say(form.dataset.work || "measuring"); bar.value = 0.5 + 0.5 * told.part; }
    }
  };
  request.onprogress = read;
  request.onload = () => {
    read();
    if (place) location.assign(place);
    else if (!trouble.textContent) end("the server gave no answer; try again");
  };
  request.onerror = () => {
    read();
    if (!trouble.textContent) end("the connection broke; is lull serve still running?");
  };
  // A browser that keeps the page for the way back must not keep it at work.
  addEventListener("pagehide", () => end(""), { once: true });
  request.open("POST", form.action);
  request.setRequestHeader("Accept", "application/x-ndjson");
  request.send(data);
}

// What a file is by the ending of its name; all else is a log.
const endings = { map: /\.ya?ml$/i, marks: /\.marks$/i, dbc: /\.dbc$/i };
const called = { map: "map", marks: "file of marks", dbc: "database" };
const kindOf = (name) => Object.keys(endings).find((k) => endings[k].test(name)) || "log";
const takes = (form, kind) => Boolean(form.querySelector("input[type=file][name=" + kind + "]"));

// takeFiles puts dropped files into the fields of one form by their endings: of the one
// that has fields for all of them, else for some. It sends the form unless that waits for
// a log.
function takeFiles(forms, files) {
  const kinds = {};
  for (const f of files) (kinds[kindOf(f.name)] ||= new DataTransfer()).items.add(f);
  const names = Object.keys(kinds);
  const form = forms.find((f) => names.every((k) => takes(f, k))) || forms.find((f) => names.some((k) => takes(f, k))) || forms[0];
  const said = [];
  let taken = false;
  for (const k of names) {
    if (!takes(form, k)) {
      said.push([...kinds[k].files].map((f) => f.name).join(", ") + ": this page has no use for it" + (k === "log" ? "; drop it on the first page" : "; drop it by itself, or with a log on the first page"));
      continue;
    }
    form.elements[k].files = kinds[k].files;
    form.elements[k].closest("details")?.setAttribute("open", "");
    taken = true;
    if (k !== "log" && kinds[k].files.length > 1) said.push("more than one " + called[k] + " was dropped; the first is taken");
  }
  form.querySelector(".trouble").textContent = said.join("\n");
  if (!taken || takes(form, "log") && !kinds.log) return;
  const trouble = said.join("\n");
  submit(form);
  if (trouble && form.classList.contains("busy")) form.querySelector(".trouble").textContent = trouble;
}

// submit sends a form of files, once what can be known before is in order.
function submit(form, button) {
  const trouble = form.querySelector(".trouble");
  const logs = form.elements.log ? [...form.elements.log.files] : [];
  const largest = Number(form.dataset.largest || 0);
  const given = [...form.querySelectorAll("input[type=file]")].flatMap((i) => [...i.files]);
  const size = given.reduce((sum, f) => sum + f.size, 0);
  if (form.elements.log && logs.length === 0) {
    trouble.textContent = "no log is chosen";
    form.elements.log.focus();
    return;
  }
  if (largest && size > largest) {
    trouble.textContent = !form.elements.log ? "more than " + Math.floor(largest / 1e6) + " MB for a draft; give a file of marks and a database in DBC format" :
      "more than " + Math.floor(largest / 1e6) + " MB at once; start lull serve with a larger --largest, or measure the log where it lies with lull episodes";
    return;
  }
  send(form, new FormData(form, button));
}

for (const form of document.querySelectorAll("form.drop, form.again")) {
  form.addEventListener("submit", (e) => { e.preventDefault(); submit(form); });
}
for (const form of document.querySelectorAll("form.demo")) {
  form.addEventListener("submit", (e) => {
    e.preventDefault();
    send(form, new URLSearchParams({ name: e.submitter.value }));
  });
}
// What is said to a draft.
for (const form of document.querySelectorAll("form.choose")) {
  form.addEventListener("submit", (e) => {
    e.preventDefault();
    if (form.enctype === "multipart/form-data") submit(form, e.submitter);
    else send(form, new URLSearchParams(new FormData(form, e.submitter)));
  });
}
// A drop anywhere goes to a form of the page that has a field for it, so that a near miss
// does not make the browser open the log as text.
const targets = [...document.forms].filter((f) => f.querySelector("input[type=file]"));
const carries = (e) => e.dataTransfer && [...e.dataTransfer.types].includes("Files");
const over = (is) => targets.forEach((f) => f.classList.toggle("over", is));
if (targets.length) {
  addEventListener("dragover", (e) => { if (carries(e)) { e.preventDefault(); over(true); } });
  addEventListener("dragleave", (e) => { if (!e.relatedTarget) over(false); });
  addEventListener("drop", (e) => {
    if (!carries(e)) return;
    e.preventDefault();
    over(false);
    if (document.querySelector("form.busy")) return;
    takeFiles(targets, e.dataTransfer.files);
  });
}

// The map's mistakes lead to their places in its text.
for (const link of document.querySelectorAll("a[data-line]")) {
  link.addEventListener("click", (e) => {
    e.preventDefault();
    const text = document.getElementById("maptext");
    const lines = text.value.split("\n");
    let at = 0;
    for (let i = 0; i < Number(link.dataset.line) - 1 && i < lines.length; i++) at += lines[i].length + 1;
    at += Number(link.dataset.column) - 1;
    text.focus();
    text.setSelectionRange(at, at + 1);
    text.scrollTop = (Number(link.dataset.line) - 4) * text.scrollHeight / lines.length;
  });
}

// The address keeps what is shown.

const address = () => new URL(location.href);

function remember(changes, push) {
  const url = address();
  for (const [key, value] of Object.entries(changes)) {
    if (value) url.searchParams.set(key, value);
    else url.searchParams.delete(key);
  }
  if (url.href === location.href) return;
  history[push ? "pushState" : "replaceState"](null, "", url);
}

// Tables of episodes and of standstills, whose rows open their cards.

const tables = [...document.querySelectorAll("section.cards")].filter((s) => s.querySelector("table"));
const rowsOf = (section) => [...section.querySelectorAll("tbody[data-open]")];
const filtersOf = (section) => [...section.querySelectorAll(".filter select")];
// Each table has its own keys in the address: those of episodes are plain, those of
// standstills begin with that word, and all but the first of a kind end with a number.
function keyOf(section, name) {
  const kind = section.dataset.kind;
  const at = tables.filter((s) => s.dataset.kind === kind).indexOf(section);
  return (kind === "episode" ? "" : kind + "-") + name + (at ? at + 1 : "");
}
const linkOf = (row) => row.querySelector("a");
const shown = (section) => rowsOf(section).filter((r) => !r.hidden);

function query(name, open) {
  const parts = new URLSearchParams({ open });
  if (body.before) parts.set("before", body.before);
  return body.base + "/drives/" + body.id + "/" + name + "?" + parts;
}

function close(row) {
  row.querySelector("tr.story")?.remove();
  row.rows[0].classList.remove("open");
  linkOf(row).removeAttribute("aria-expanded");
}

// say tells something of a table's rows where its count stands.
function say(row, text) {
  row.closest("section").querySelector(".count").textContent = text;
}

// opening counts what was opened, so that a card that comes late is not shown.
let opening = 0;

async function open(row, push) {
  const mine = ++opening;
  for (const s of tables) for (const r of rowsOf(s)) if (r !== row) close(r);
  if (!row) {
    remember({ open: "" }, push);
    return;
  }
  remember({ open: row.dataset.open }, push);
  if (row.querySelector("tr.story")) return;
  row.rows[0].classList.add("open");
  linkOf(row).setAttribute("aria-expanded", "true");
  let text;
  try {
    const answer = await fetch(query("card", row.dataset.open));
    if (!answer.ok) throw new Error();
    text = await answer.text();
  } catch {
    if (mine === opening) close(row);
    say(row, "The " + row.closest("section").dataset.kind + " could not be loaded; is lull serve still running? Load the page anew.");
    return;
  }
  if (mine !== opening) return;
  // What comes is a section that this server made, in which all text is escaped.
  const story = new DOMParser().parseFromString(text, "text/html").querySelector("section");
  const line = row.insertRow();
  line.className = "story";
  const cell = line.insertCell();
  cell.colSpan = row.rows[0].cells.length;
  const frame = document.createElement("div");
  frame.append(document.adoptNode(story));
  cell.append(frame);
  applyFilter(row.closest("section")); // and what was said of another row goes
  enliven(row);
}

function toggle(row) {
  open(row.querySelector("tr.story") ? null : row, true);
}

// order sorts a table's rows by a column: numbers by value, what has none last.
function order(section, column, down) {
  const table = section.querySelector("table");
  const key = (row) => {
    const text = row.rows[0].cells[column].textContent.trim();
    const number = parseFloat(text.replace(/^[^\d.+-]*(?=[\d.])/, ""));
    return { text, number, none: text === "" || text === "-" };
  };
  const keyed = rowsOf(section).map((row) => ({ row, ...key(row), first: Number(linkOf(row).textContent) }));
  const numbers = keyed.every((k) => k.none || !Number.isNaN(k.number));
  keyed.sort((a, b) => {
    if (a.none !== b.none) return a.none ? 1 : -1;
    const by = numbers ? a.number - b.number : a.text.localeCompare(b.text);
    return (down ? -by : by) || a.first - b.first || 0;
  });
  table.append(...keyed.map((k) => k.row));
  section.querySelectorAll("th").forEach((th, i) => {
    if (i === column) th.setAttribute("aria-sort", down ? "descending" : "ascending");
    else th.removeAttribute("aria-sort");
  });
}

function applyFilter(section) {
  const wanted = filtersOf(section).filter((f) => f.value).map((f) => f.name + "=" + f.value);
  const rows = rowsOf(section);
  for (const r of rows) {
    const is = r.dataset.is.split("|");
    r.hidden = !wanted.every((w) => is.includes(w));
  }
  const n = rows.filter((r) => !r.hidden).length;
  section.querySelector(".count").textContent = n === rows.length ? "" : n + " of " + rows.length + " shown";
  roam(section);
}

// roam leaves one link of a table in the order of the Tab key: the open one or the
// first.
function roam(section, to) {
  const rows = shown(section);
  const here = to || rows.find((r) => r.querySelector("tr.story")) || rows[0];
  for (const r of rowsOf(section)) linkOf(r).tabIndex = r === here ? 0 : -1;
}

function walk(section, row, key) {
  const rows = shown(section);
  const i = rows.indexOf(row);
  const to = { ArrowDown: rows[i + 1], ArrowUp: rows[i - 1], Home: rows[0], End: rows[rows.length - 1] }[key];
  if (!to) return;
  roam(section, to);
  linkOf(to).focus();
}

for (const section of tables) {
  section.querySelector(".filter").hidden = false;
  section.querySelector(".keys").hidden = false;
  const heads = [...section.querySelectorAll("thead th")];
  heads.forEach((th, column) => {
    const button = document.createElement("button");
    button.type = "button";
    button.append(...th.childNodes);
    th.append(button);
    button.addEventListener("click", () => {
      const down = th.getAttribute("aria-sort") === "ascending";
      order(section, column, down);
      remember({ [keyOf(section, "sort")]: (down ? "-" : "") + button.textContent });
    });
  });
  for (const select of filtersOf(section)) {
    select.addEventListener("change", () => {
      applyFilter(section);
      remember({ [keyOf(section, select.name)]: select.value });
    });
  }
  section.addEventListener("click", (e) => {
    const row = e.target.closest("tbody[data-open]");
    if (!row || e.target.closest("tr.story")) return;
    e.preventDefault();
    roam(section, row);
    toggle(row);
  });
  section.addEventListener("keydown", (e) => {
    const row = e.target.closest("tbody[data-open]");
    if (!row || e.altKey || e.ctrlKey || e.metaKey) return;
    if (e.key === "Escape") {
      e.preventDefault();
      linkOf(row).focus();
      open(null, true);
    } else if (e.target === linkOf(row) && ["ArrowDown", "ArrowUp", "Home", "End"].includes(e.key)) {
      e.preventDefault();
      walk(section, row, e.key);
    }
  });
}

// restore makes the page what its address says.
function restore() {
  const wanted = address().searchParams;
  for (const section of tables) {
    const heads = [...section.querySelectorAll("thead th")];
    const sort = wanted.get(keyOf(section, "sort")) || "";
    const column = heads.findIndex((th) => th.textContent === sort.replace(/^-/, ""));
    if (column >= 0) order(section, column, sort.startsWith("-"));
    for (const select of filtersOf(section)) {
      const value = wanted.get(keyOf(section, select.name)) || "";
      select.value = [...select.options].some((o) => o.value === value) ? value : "";
    }
    applyFilter(section);
  }
  const row = tables.flatMap(rowsOf).find((r) => r.dataset.open === wanted.get("open"));
  open(row || null);
  if (row) enliven(row);
}
addEventListener("popstate", restore);

// The cursor in a picture.

const svgNS = "http://www.w3.org/2000/svg";

// lastUpTo finds the last point not later than a time.
function lastUpTo(points, t) {
  let low = 0, high = points.length;
  while (low < high) {
    const mid = (low + high) >> 1;
    if (points[mid][0] <= t) low = mid + 1; else high = mid;
  }
  return low - 1;
}

// told says what was seen by a time.
function told(data, t) {
  const list = [];
  for (const s of data.signals) {
    const i = lastUpTo(s.points, t);
    if (i < 0) continue;
    const [at, value] = s.points[i];
    const lost = i + 1 < s.points.length && s.points[i + 1][2] === 1;
    const words = s.unit ? +value.toPrecision(4) + " " + s.unit : value ? "on" : "off";
    const age = Math.round((t - at) * 1000);
    list.push([s.name, words + (lost ? ", then not seen" : ", " + age + " ms old")]);
  }
  const at = data.states.flatMap((s) => s.spans.filter((p) => p[0] <= t && t < p[1]).map((p) => [s.name, p[2] === 1 ? "true" : "not known"]));
  return list.concat(at);
}

// enliven gives the picture of an open card its cursor.
async function enliven(row) {
  const figure = row.querySelector("figure");
  if (!figure || figure.dataset.alive) return;
  figure.dataset.alive = "1";
  let data;
  try {
    data = await (await fetch(query("readings", row.dataset.open))).json();
  } catch {
    return; // without its cursor the picture is still whole
  }
  const out = document.createElement("p");
  out.className = "reading";
  out.setAttribute("role", "status");
  const hint = "Point at the picture, or move the cursor with the arrow keys, to read values.";
  out.textContent = hint;
  figure.after(out);
  figure.tabIndex = 0;
  figure.setAttribute("role", "group");
  figure.setAttribute("aria-label", "picture with a cursor for the arrow keys");
  const sheets = ["wide", "narrow"].map((name) => {
    const svg = figure.querySelector("." + name + " svg");
    const line = document.createElementNS(svgNS, "line");
    line.setAttribute("class", "cursor");
    line.setAttribute("visibility", "hidden");
    line.setAttribute("y1", 0);
    line.setAttribute("y2", svg.viewBox.baseVal.height - 32); // above the axis
    svg.append(line);
    return { svg, line, pieces: data.pieces[name] };
  });
  let now = null;
  const place = (t) => {
    now = t;
    for (const s of sheets) {
      const piece = s.pieces.find((p) => t >= p[0] && t <= p[1]);
      s.line.setAttribute("visibility", piece ? "visible" : "hidden");
      if (!piece) continue;
      const x = piece[2] + (t - piece[0]) / (piece[1] - piece[0]) * (piece[3] - piece[2]);
      s.line.setAttribute("x1", x);
      s.line.setAttribute("x2", x);
    }
    out.replaceChildren("At " + t.toFixed(3) + " s: ");
    const list = told(data, t);
    list.forEach(([name, value], i) => {
      const b = document.createElement("b");
      b.textContent = name + " ";
      out.append(b, value + (i + 1 < list.length ? "; " : "."));
    });
  };
  for (const s of sheets) {
    s.svg.addEventListener("pointermove", (e) => {
      const box = s.svg.getBoundingClientRect();
      const x = (e.clientX - box.left) / box.width * s.svg.viewBox.baseVal.width;
      const piece = s.pieces.find((p) => x >= p[2] && x <= p[3]);
      if (piece) place(piece[0] + (x - piece[2]) / (piece[3] - piece[2]) * (piece[1] - piece[0]));
    });
  }
  // The cursor steps through the pieces of time as if nothing lay between them.
  const pieces = data.pieces.wide;
  const clamp = (t, forward) => {
    if (t <= pieces[0][0]) return pieces[0][0];
    for (let i = 0; i < pieces.length; i++) {
      if (t <= pieces[i][1] && t >= pieces[i][0]) return t;
      if (i + 1 < pieces.length && t > pieces[i][1] && t < pieces[i + 1][0]) return forward ? pieces[i + 1][0] : pieces[i][1];
    }
    return pieces[pieces.length - 1][1];
  };
  figure.addEventListener("keydown", (e) => {
    if (e.altKey || e.ctrlKey || e.metaKey) return;
    const start = now === null ? data.moments[0].t : now;
    const step = e.shiftKey ? 0.1 : 0.01;
    const moments = data.moments.map((m) => m.t);
    const to = {
      ArrowRight: () => clamp(start + step, true),
      ArrowLeft: () => clamp(start - step, false),
      PageDown: () => moments.find((t) => t > start + 1e-6) ?? start,
      PageUp: () => moments.findLast((t) => t < start - 1e-6) ?? start,
      Home: () => pieces[0][0],
      End: () => pieces[pieces.length - 1][1],
    }[e.key];
    if (!to) return;
    e.preventDefault();
    place(now === null && e.key.startsWith("Arrow") ? start : to());
  });
}

if (tables.length) restore();
