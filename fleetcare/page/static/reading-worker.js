/* Comfort only: keeps the digits of a reading that did not get through, and sends them once there is signal.
   They go out under the key of the form they were typed into, so that they count once whatever happened on the way.
   `SAID`, its texts in the language of the page, is put before this by who hands it out. */
"use strict";
const DAYS = 60, DOOR = /^\/o\/[^/]+$/;
const sheet = new URL(self.location.href).searchParams.get("css") || "";

function box(mode, work) {
  return new Promise((done, failed) => {
    const opening = indexedDB.open("fleetcare", 1);
    opening.onupgradeneeded = () => opening.result.createObjectStore("kept", { keyPath: "once" });
    opening.onerror = () => failed(opening.error);
    opening.onsuccess = () => {
      const deal = opening.result.transaction("kept", mode), asked = work(deal.objectStore("kept"));
      deal.oncomplete = () => { opening.result.close(); done(asked.result); };
      deal.onerror = () => failed(deal.error);
    };
  });
}

function today() {
  const now = new Date(), two = number => String(number).padStart(2, "0");
  return now.getFullYear() + "-" + two(now.getMonth() + 1) + "-" + two(now.getDate());
}

function told(digits) {
  const safe = digits.replace(/[^0-9 .,]/g, "").slice(0, 16);
  const head = "<!doctype html><html lang=" + SAID.lang + "><meta charset=utf-8><meta name=viewport content=\"width=device-width\"><title>" + SAID.title + "</title>";
  const style = /^\/static\/[\w.?=-]+$/.test(sheet) ? "<link rel=stylesheet href=\"" + sheet + "\">" : "";
  const words = "<body class=\"slim reading\"><div class=wrap><main><h1>" + SAID.heading.replace("{digits}", safe) + "</h1>" +
    "<p class=\"note mt\">" + SAID.told + "</p>" +
    "<p><a class=btn href=\"\">" + SAID.again + "</a></p></main></div>";
  return new Response(head + style + words, { status: 503, headers: {
    "Content-Type": "text/html; charset=utf-8", "Cache-Control": "no-store",
    "Content-Security-Policy": "default-src 'none'; style-src 'self'; font-src 'self' data:" } });
}

async function send(one) {
  const answer = await fetch(one.url, { method: "POST", body: new URLSearchParams(one.body), credentials: "omit", cache: "no-store" });
  /* Trouble of the machine is no answer: it is tried again. Anything else a person has seen, or will see now. */
  if (answer.status === 429 || answer.status >= 500) throw new Error("not now");
  return answer;
}

async function sendAll() {
  for (const one of await box("readonly", kept => kept.getAll())) {
    if (Date.now() - one.at > DAYS * 864e5) { await box("readwrite", kept => kept.delete(one.once)); continue; }
    const answer = await send(one);
    /* What is asked back waits for the person, who opens the page again. */
    if (answer.ok) await box("readwrite", kept => kept.delete(one.once));
  }
}

async function post(request) {
  const copy = request.clone();
  try { return await fetch(request); } catch (trouble) {
    const body = new URLSearchParams(await copy.text());
    if (!body.get("once")) throw trouble;
    if (!body.get("kept")) body.set("kept", today());
    await box("readwrite", kept => kept.put({ once: body.get("once"), url: request.url, body: body.toString(), at: Date.now() }));
    if (self.registration.sync) await self.registration.sync.register("readings").catch(() => {});
    return told(body.get("odo") || "");
  }
}

async function open(request) {
  const mine = (await box("readonly", kept => kept.getAll())).find(one => one.url === request.url);
  if (!mine) return fetch(request);
  try {
    const answer = await send(mine);
    await box("readwrite", kept => kept.delete(mine.once));
    return answer;
  } catch (trouble) { return told(new URLSearchParams(mine.body).get("odo") || ""); }
}

self.addEventListener("install", () => self.skipWaiting());
self.addEventListener("activate", event => event.waitUntil(self.clients.claim()));
self.addEventListener("sync", event => event.waitUntil(sendAll()));
self.addEventListener("fetch", event => {
  const request = event.request;
  if (request.mode !== "navigate" || !DOOR.test(new URL(request.url).pathname)) return;
  event.respondWith(request.method === "POST" ? post(request) : open(request));
});
