/* Search from files: a browser starts no worker from a file, so a frame that is not shown does its work. */
if (location.protocol === "file:") {
  window.Worker = class extends EventTarget {
    constructor(url) {
      super();
      const frame = document.createElement("iframe");
      frame.hidden = true;
      frame.srcdoc = `<!DOCTYPE html><script>
        window.importScripts = (...urls) => urls.reduce((before, url) => before.then(() => new Promise((done, failed) => {
          const script = document.createElement("script");
          Object.assign(script, { src: url, onload: done, onerror: failed });
          document.head.append(script);
        })), Promise.resolve());
        window.postMessage = (data) => parent.dispatchEvent(new CustomEvent("${url}", { detail: data }));
      <\/script><script src="${url}"><\/script>`;
      this.ready = new Promise((done) => { frame.onload = () => done(frame.contentWindow); });
      addEventListener(String(url), (event) => {
        const told = new MessageEvent("message", { data: event.detail });
        this.dispatchEvent(told);
        if (this.onmessage) this.onmessage(told);
      });
      document.body.append(frame);
    }
    postMessage(data) {
      this.ready.then((inner) => inner.dispatchEvent(new MessageEvent("message", { data })));
    }
    terminate() {}
  };
}
