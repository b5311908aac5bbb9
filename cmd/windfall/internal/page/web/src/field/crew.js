// The crew's page begins.
import { say } from "../dom.js";
import { App } from "./crewapp.js";
import { Outbox } from "./outbox.js";
import { looks } from "./shell.js";
import { openStore } from "./store.js";

async function start() {
  looks();
  const store = await openStore();
  const [queue, docs] = await Promise.all([store.all("queue"), store.all("docs")]);
  new App(store, new Outbox(store, queue), new Map(docs));
  if (window.isSecureContext && "serviceWorker" in navigator) {
    await navigator.serviceWorker.register("/sw.js").catch(() => {}); // without it the page needs the laptop to be opened
  }
}

start().catch((e) => say("The page cannot start: " + e.message, true));
