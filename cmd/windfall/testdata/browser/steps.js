// A position and a clock that a test moves: walks of an hour in a moment. Loaded
// before the page, in place of the browser's own.
(() => {
  const real = Date.now, watchers = new Map();
  let ahead = 0, ids = 0, last = null;
  Date.now = () => real.call(Date) + ahead;
  const NativeDate = Date;
  window.Date = new Proxy(NativeDate, { construct: (D, a) => (a.length ? new D(...a) : new D(NativeDate.now())) });
  const tell = (f) => { if (last) f({ coords: { latitude: last[1], longitude: last[2], accuracy: last[3] }, timestamp: last[0] }); };
  Object.defineProperty(navigator, "geolocation", { value: {
    watchPosition(f) { watchers.set(++ids, f); queueMicrotask(() => tell(f)); return ids; },
    getCurrentPosition(f) { queueMicrotask(() => tell(f)); },
    clearWatch(id) { watchers.delete(id); },
  } });
  // Rows of milliseconds since 1970, latitude, longitude, accuracy in metres.
  // skew moves the clock alone, by milliseconds.
  window.skew = (ms) => { ahead += ms; };
  window.steps = (rows) => {
    for (const r of rows) {
      ahead = r[0] - real.call(Date);
      last = r;
      for (const f of watchers.values()) tell(f);
    }
    return watchers.size;
  };
  // Timers that go on by themselves, and a page that nobody looks at.
  const every = window.setInterval;
  window.intervals = [];
  window.setInterval = (f, ms, ...a) => { window.intervals.push(ms); return every(f, ms, ...a); };
  window.hide = (yes) => {
    Object.defineProperty(document, "hidden", { configurable: true, value: yes });
    document.dispatchEvent(new Event("visibilitychange"));
  };
  // What the page gave to be saved last.
  const make = URL.createObjectURL;
  URL.createObjectURL = (b) => { b.text().then((t) => { window.saved = t; }); return make.call(URL, b); };
})();
