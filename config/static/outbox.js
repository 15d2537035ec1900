/* What was measured is kept on this phone before it is sent, and sent until it is answered.

   Every form marked data-outbox goes through here. The row is written first, then sent; a lost
   answer is asked for again under the same client_id, which changes nothing on the server. */
"use strict";

const READINGS = "/api/v1/checks/";
const TEMPERATURES = "/api/v1/site-temperatures/";
const ANSWER_WITHIN_MS = 8000;
const PHOTO_WITHIN_MS = 90000;
const PHOTO_PX = 1600; // The server keeps no more of a picture, and a bad signal carries less.
const RETRY_EVERY_MS = 20000;

/* ---- the box: one IndexedDB store, a row per thing that was sent or waits ---- */

function opened() {
  return new Promise((resolve, reject) => {
    const asked = indexedDB.open("firstwarm", 1);
    asked.onupgradeneeded = () => asked.result.createObjectStore("outbox", { keyPath: "id" });
    asked.onsuccess = () => resolve(asked.result);
    asked.onerror = () => reject(asked.error);
  });
}

async function inBox(mode, work) {
  const base = await opened();
  try {
    return await new Promise((resolve, reject) => {
      /* "strict": on the disk before we say that it is kept, so that a dead battery loses nothing. */
      const deal = base.transaction("outbox", mode, { durability: "strict" });
      const answer = work(deal.objectStore("outbox"));
      deal.oncomplete = () => resolve(answer && answer.result);
      deal.onerror = deal.onabort = () => reject(deal.error);
    });
  } finally {
    base.close();
  }
}

const keep = (row) => inBox("readwrite", (box) => box.put(row));
const drop = (id) => inBox("readwrite", (box) => box.delete(id));
const all = async () => (await inBox("readonly", (box) => box.getAll())).sort((a, b) => a.at.localeCompare(b.at));

/* ---- sending ---- */

function token() {
  const found = document.cookie.match(/(?:^|; )csrftoken=([^;]+)/);
  return found ? decodeURIComponent(found[1]) : "";
}

function content(row) {
  const headers = { "X-CSRFToken": token() };
  if (row.file) {
    const body = new FormData();
    body.append("image", row.file, "photo.jpg");
    return { headers, body };
  }
  const body = row.url === READINGS ? { ...row.body, sent_at: new Date().toISOString() } : row.body;
  return { headers: { ...headers, "Content-Type": "application/json" }, body: JSON.stringify(body) };
}

async function send(row) {
  const patience = new AbortController();
  const timer = setTimeout(() => patience.abort(), row.file ? PHOTO_WITHIN_MS : ANSWER_WITHIN_MS);
  try {
    const answer = await fetch(row.url, { method: "POST", credentials: "same-origin", signal: patience.signal, ...content(row) });
    const told = await answer.json();
    if (answer.status === 201 || answer.status === 200) {
      row.state = told.measured_twice ? "twice" : "sent";
      row.answer = told;
      delete row.file; // The server has it; the phone needs the room.
    } else if ([401, 403, 429].includes(answer.status) || answer.status >= 500) {
      row.why = told.title;
      return row;
    } else {
      row.state = "clash";
      row.why = [told.title, told.detail, ...(told.errors || []).map((each) => each.detail)].filter(Boolean).join(" ");
    }
    await keep(row);
  } catch (error) {
    if (!(error instanceof TypeError || error instanceof SyntaxError || error.name === "AbortError")) throw error;
  } finally {
    clearTimeout(timer);
  }
  return row;
}

/* One page at a time sends: two of them would only ask twice. A photo lets readings go first. */
async function sendAll() {
  const work = async () => {
    for (const row of (await all()).sort((a, b) => Boolean(a.file) - Boolean(b.file))) {
      if (row.state === "unsent" && (await send(row)).state === "unsent") break;
    }
  };
  if (navigator.locks) await navigator.locks.request("firstwarm-outbox", { ifAvailable: true }, (lock) => lock && work());
  else await work();
  await show();
}

/* ---- the bar and the page of the outbox ---- */

async function show() {
  const rows = await all();
  const unsent = rows.filter((row) => row.state === "unsent").length;
  const clashes = rows.filter((row) => row.state === "clash").length;
  const twice = rows.filter((row) => row.state === "twice").length;
  const bar = document.getElementById("queue");
  if (bar) {
    const said = [];
    if (twice) said.push(`${twice} ${bar.dataset.twice}`);
    if (clashes) said.push(`${clashes} ${bar.dataset.clash}`);
    if (unsent) said.push(`${unsent} ${bar.dataset.unsent}`);
    const strong = document.createElement("b");
    strong.textContent = said.length ? said.join(", ") : bar.dataset.sent;
    const words = bar.querySelector("span");
    words.replaceChildren(strong, navigator.onLine ? "" : ` · ${bar.dataset.noSignal}`);
    const mark = clashes || twice ? "clash" : unsent ? "unsent" : "sent";
    bar.className = `queue ${clashes || twice ? "stop" : unsent ? "ask" : "off"}`;
    bar.querySelector("svg").replaceWith(document.getElementById(`queue-${mark}`).content.firstElementChild.cloneNode(true));
  }
  const list = document.getElementById("outbox-rows");
  if (list) {
    list.replaceChildren(...rows.reverse().map((row) => shown(row, list)));
    document.getElementById("outbox-none").hidden = rows.length > 0;
  }
}

function shown(row, list) {
  const item = document.getElementById(`row-${row.state}`).content.firstElementChild.cloneNode(true);
  item.querySelector("[data-label]").textContent = `${row.label} · ${row.shown}`;
  item.querySelector("[data-why]").textContent = row.why || "";
  item.querySelector("time").textContent = new Date(row.at).toLocaleString(document.documentElement.lang, { weekday: "short", hour: "numeric", minute: "2-digit" });
  const both = item.querySelector("[data-both]");
  if (both) both.href = `/rooms/${row.answer.room}/readings/`;
  const away = item.querySelector("button");
  if (away) away.addEventListener("click", async () => { await drop(row.id); await show(); });
  return item;
}

/* ---- taking in a form ---- */

function number(text) {
  const plain = text.replace(/[\s\u00a0\u202f]/g, "").replace("−", "-");
  return /^-?(\d{1,12}([.,]\d{0,9})?|[.,]\d{1,9})$/.test(plain) ? Number(plain.replace(",", ".")) : null;
}

function readingOf(form, over) {
  const fields = new FormData(form);
  const value = over ? null : number(fields.get("value"));
  if (!over && value === null) return null;
  const sent = JSON.parse(document.getElementById("sent").textContent);
  const reading = { kind: sent.kind, range: fields.get("range") };
  if (over) reading.over_range = true;
  else reading.value = value;
  for (const name of ["element", "sensor", "lead"]) if (sent[name]) reading[name] = sent[name];
  const beside = number(fields.get("at_c") || "");
  if (beside !== null) reading.at_c = beside;
  const readings = [reading];
  const volts = number(fields.get("volts") || "");
  if (volts !== null && fields.get("volt_range")) {
    readings.unshift({ kind: "supply", range: fields.get("volt_range"), value: volts });
  }
  const [, room, stage] = location.pathname.match(/rooms\/([^/]+)\/measure\/([^/]+)/);
  return { url: READINGS, body: { room, stage, readings }, shown: over ? form.dataset.over : `${fields.get("value").trim()} ${form.dataset.unit}` };
}

function temperatureOf(form) {
  const read = number(new FormData(form).get("celsius"));
  if (read === null) return null;
  const celsius = form.dataset.unit === "°F" ? ((read - 32) * 5) / 9 : read;
  const body = { job: form.dataset.job, room: form.dataset.room, celsius };
  const humidity = number(new FormData(form).get("humidity_percent") || "");
  if (humidity !== null) body.humidity_percent = humidity;
  return { url: TEMPERATURES, body, shown: `${read} ${form.dataset.unit}` };
}

function photoOf(form) {
  const file = form.elements.image.files[0];
  return file ? { url: form.dataset.url, file, shown: form.dataset.shown } : null;
}

/* As large as the server keeps it; as it is where the browser cannot read it. */
async function small(file) {
  let picture;
  try {
    picture = await createImageBitmap(file);
  } catch (error) {
    if (error.name !== "InvalidStateError") throw error;
    return file;
  }
  const scale = Math.min(1, PHOTO_PX / Math.max(picture.width, picture.height));
  const canvas = document.createElement("canvas");
  canvas.width = Math.round(picture.width * scale);
  canvas.height = Math.round(picture.height * scale);
  canvas.getContext("2d").drawImage(picture, 0, 0, canvas.width, canvas.height);
  return new Promise((resolve) => canvas.toBlob(resolve, "image/jpeg", 0.85));
}

/* By the bands that the server worked out for this range; null where it cannot be told here. */
function judged(row) {
  const reading = row.body.readings.at(-1);
  const known = JSON.parse(document.getElementById("bands").textContent)[reading.range];
  if (!known) return null;
  if (reading.over_range) return known.over_range;
  if (known.passes && reading.value >= known.passes[0] && reading.value <= known.passes[1]) return "pass";
  const fails = (known.fails_below !== null && reading.value <= known.fails_below) || (known.fails_above !== null && reading.value >= known.fails_above);
  return fails ? "fail" : "undecided";
}

function showKept(form, row) {
  const outcome = row.url === READINGS ? judged(row) : null;
  const told = document.getElementById(`outcome-${outcome || "unsent"}`);
  const page = document.getElementById("kept").content.cloneNode(true);
  const say = page.querySelector(".say");
  say.classList.add(told.dataset.tone);
  say.querySelector("svg").replaceWith(told.content.firstElementChild.cloneNode(true));
  say.querySelector("h1").textContent = `${told.dataset.word}: ${row.shown}`;
  page.querySelector("[data-go=next]").href = form.dataset.next;
  page.querySelector("[data-go=again]").href = location.href;
  const main = document.getElementById("main");
  main.replaceChildren(page);
  main.focus();
}

async function take(event) {
  const form = event.target;
  const over = event.submitter && event.submitter.name === "over_range";
  const made = { check: readingOf, temperature: temperatureOf, photo: photoOf }[form.dataset.outbox](form, over);
  if (made === null) return; // The server says what is wrong, or the browser that there is no signal.
  event.preventDefault();
  if (made.file) made.file = await small(made.file);
  const at = new Date().toISOString();
  const id = crypto.randomUUID();
  const row = { ...made, id, at, label: form.dataset.label, state: "unsent" };
  if (row.body) row.body = { ...row.body, client_id: id, [row.url === READINGS ? "taken_at" : "at"]: at };
  await keep(row);
  await show();
  await send(row);
  await show();
  if (row.answer) location.assign(row.url === READINGS ? `/field/checks/${row.answer.id}/` : form.dataset.next);
  else showKept(form, row);
}

/* ---- from the start ---- */

document.addEventListener("submit", (event) => {
  if (event.target.dataset && event.target.dataset.outbox) take(event);
});
addEventListener("online", sendAll);
addEventListener("offline", show);
document.addEventListener("visibilitychange", () => document.hidden || sendAll());
setInterval(sendAll, RETRY_EVERY_MS);
document.getElementById("send-now")?.addEventListener("click", sendAll);
sendAll();

if ("serviceWorker" in navigator && isSecureContext) {
  navigator.serviceWorker.register("/service-worker.js").then(async () => {
    const note = document.getElementById("kept-note");
    if (!note) return;
    const worker = (await navigator.serviceWorker.ready).active;
    const told = new MessageChannel();
    told.port1.onmessage = () => { note.textContent = note.dataset.kept; };
    worker.postMessage({ keep: note.dataset.keep.split(" ").filter(Boolean) }, [told.port2]);
  });
}
