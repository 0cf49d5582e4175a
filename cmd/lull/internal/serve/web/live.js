// The page of a recording works without this script as it stood when it was loaded;
// the script keeps it up to date. Nothing that comes is ever put into the page other
// than as text.
"use strict";

(() => {
  const page = document.body;
  const now = document.getElementById("now");
  const broken = document.querySelector(".broken");
  const lacks = document.querySelector(".lacks");
  const buses = document.querySelector(".buses");
  const file = document.querySelector(".file");
  const rows = [...document.querySelectorAll(".signals tbody tr")];
  let last = Number(page.dataset.last); // the number of the news seen last
  let events = null;
  let over = false; // nothing comes any more

  // put sets a text where it is another one, so that nothing is drawn for nothing.
  const put = (element, text) => { if (element.textContent !== text) element.textContent = text; };

  // fit makes a list as long as it has to be.
  function fit(list, length, make) {
    while (list.children.length > length) list.lastElementChild.remove();
    while (list.children.length < length) list.append(make());
  }

  function state(s) {
    put(now, s.headline);
    put(file, s.file);
    fit(lacks, (s.lacks || []).length, () => document.createElement("li"));
    (s.lacks || []).forEach((text, i) => put(lacks.children[i], text));
    const list = s.buses || [];
    if (list.length && !buses.querySelector("b")) buses.replaceChildren(); // it said that none came
    if (list.length) fit(buses, list.length, () => document.getElementById("newbus").content.firstElementChild.cloneNode(true));
    list.forEach((b, i) => {
      [b.name, b.rate, b.load, b.errors].forEach((text, k) => put(buses.children[i].children[k], text));
    });
    (s.signals || []).forEach((signal, i) => {
      const row = rows[i];
      if (!row) return;
      put(row.children[1], signal.value);
      put(row.children[2], signal.age);
      row.classList.toggle("unseen", !signal.age);
    });
    if (marks && s.marks) marked(s.marks);
  }

  const marks = document.querySelector(".marks");

  function marked(m) {
    const on = (m.on || []).map((one) => one.name);
    for (const button of marks.querySelectorAll("button[name=mark]")) {
      button.ariaPressed = String(on.includes(button.value));
    }
    put(marks.querySelector(".count"), m.count ? "Taken: " + m.count + ", in " + m.file + "." : "");
    const list = marks.querySelector(".taken");
    const taken = m.taken || [];
    fit(list, taken.length, () => document.createElement("li"));
    taken.forEach((text, i) => put(list.children[i], text));
  }

  // mark sends a mark and says why it was not taken. The state tells what is marked.
  async function mark(form, done) {
    const refused = marks.querySelector(".refused");
    let error = "";
    try {
      const answer = await fetch(marks.dataset.mark, { method: "POST", body: new URLSearchParams(form), headers: { Accept: "application/json" } });
      error = answer.ok ? (await answer.json()).error : "not marked: lull refused it";
    } catch {
      error = "not marked: lull does not answer";
    }
    put(refused, error);
    refused.hidden = !error;
    if (!error && done) done();
  }

  if (marks && !page.dataset.ended) {
    const [buttons, reading] = marks.querySelectorAll("form");
    let shown = 0; // when somebody began to type what was shown
    buttons.addEventListener("submit", (e) => {
      e.preventDefault();
      mark({ mark: e.submitter.value });
    });
    reading.elements.value.addEventListener("input", (e) => {
      if (!e.target.value) shown = 0;
      else if (!shown) shown = performance.now();
    });
    reading.addEventListener("submit", (e) => {
      e.preventDefault();
      const ago = shown ? Math.round(performance.now() - shown) : 0;
      mark({ value: reading.elements.value.value, unit: reading.elements.unit.value, ago }, () => { reading.elements.value.value = ""; shown = 0; });
    });
  }

  // As on the server.
  const lists = { attention: "attention", warning: "attention", failure: "attention", remark: "said" };

  function news(n) {
    if (n.id <= last) return;
    last = n.id;
    const section = document.getElementById(lists[n.kind] || "found");
    const line = document.getElementById("newline").content.firstElementChild.cloneNode(true);
    line.dataset.kind = n.kind;
    line.dataset.tone = n.tone;
    [n.at, n.head, n.text].forEach((text, i) => { line.children[i].textContent = text; });
    const latest = section.querySelector(".latest");
    const earlier = section.querySelector(".earlier");
    section.querySelector(".none").hidden = true;
    latest.prepend(line);
    while (latest.children.length > Number(section.dataset.most)) {
      earlier.querySelector("ul").prepend(latest.lastElementChild);
      earlier.hidden = false;
      put(earlier.querySelector("summary span"), String(earlier.querySelectorAll("li").length));
    }
  }

  function trouble(text) {
    broken.hidden = !text;
    put(broken, text);
    page.classList.toggle("stale", !!text);
  }

  function close() {
    if (events) events.close();
    events = null;
  }

  function open() {
    if (events || over) return;
    events = new EventSource(page.dataset.events + "?after=" + last);
    const on = (name, take) => events.addEventListener(name, (e) => take(JSON.parse(e.data)));
    on("news", news);
    on("state", (s) => { trouble(""); state(s); });
    on("ended", () => { over = true; close(); location.reload(); }); // for what can be done now
    on("gone", () => {
      over = true;
      close();
      page.dataset.ended = "yes";
      put(document.querySelector(".on"), "Recorded");
      document.querySelector(".end").remove();
      if (marks) marks.querySelectorAll("form").forEach((form) => form.remove());
      trouble("lull serve was ended. The log is closed; this is how it stood.");
    });
    events.onerror = () => {
      if (events) trouble("The connection to lull broke. This is how it stood at " + new Date().toLocaleTimeString() + "; the recording may go on.");
      if (events && events.readyState === EventSource.CLOSED) close();
    };
  }

  if (page.dataset.ended) return;
  // The answer to the button is the page of the end.
  document.querySelector(".end form").addEventListener("submit", () => { over = true; close(); });
  // A browser has few connections to one server: a page that nobody sees needs none.
  document.addEventListener("visibilitychange", () => (document.hidden ? close() : open()));
  if (!document.hidden) open();
})();
