"use strict";
(() => {
  const find = (id) => document.getElementById(id);
  const data = JSON.parse(find("live-data").textContent);
  const held = new Map();
  let base = null, now = null, top = -Infinity;

  const make = (name, attributes, parent, words) => {
    const node = document.createElementNS("http://www.w3.org/2000/svg", name);
    for (const [key, value] of Object.entries(attributes)) node.setAttribute(key, value);
    if (words !== undefined) node.textContent = words;
    if (parent) parent.append(node);
    return node;
  };
  const show = (id, words) => { find(id).textContent = words; };
  const line = (points) => points.map(([x, y], k) => `${k ? "L" : "M"}${x.toFixed(1)} ${y.toFixed(1)}`).join("");

  function ticks(low, high, wanted) {
    const rough = (high - low) / wanted, power = 10 ** Math.floor(Math.log10(rough));
    const step = [1, 2, 5, 10].map((each) => each * power).find((each) => each >= rough);
    const decimals = Math.max(0, -Math.floor(Math.log10(step) + 1e-9)), found = [];
    for (let k = Math.ceil(low / step); k * step <= high; k += 1) found.push([k * step, (k * step).toFixed(decimals)]);
    return found;
  }

  // --- the long section ------------------------------------------------------------------------------------------

  function reach(section) {
    const levels = [...section.bed[1], ...section.banks.map((bank) => bank[1])];
    for (const extent of section.extents) {
      levels.push(...extent.roof, extent.road, ...(extent.screen ? [extent.screen[1][1]] : []));
    }
    const known = levels.filter((level) => level !== null);
    return [Math.min(...known), Math.max(...known)];
  }

  function drawSection(answer) {
    const room = find("section"), section = answer.section;
    const width = Math.max(320, room.clientWidth), height = width < 600 ? 300 : 380;
    const left = 50, right = 10, above = 34, below = 40;
    const [lowest, highest] = reach(section), span = Math.max(highest - lowest, 0.01);
    const water = section.pieces.flatMap((piece) => piece[1]).filter((level) => level !== null);
    top = Math.max(top, Math.min(Math.max(highest, ...water) + 0.1 * span, highest + span));
    const floor = lowest - 0.14 * span, [start, end] = section.ends;
    const x = (at) => left + (at - start) / (end - start) * (width - left - right);
    const y = (level) => above + (top - (level === null ? top + span : level)) / (top - floor) * (height - above - below);
    const root = make("svg", {viewBox: `0 0 ${width} ${height}`, role: "img"});
    const words = `water at ${data.place} ${answer.level_words}, bank ${answer.bank_words}`;
    root.setAttribute("aria-label", `Long section: ${words}`);
    const clip = make("clipPath", {id: "section-clip"}, make("defs", {}, root));
    make("rect", {x: left, y: above, width: width - left - right, height: height - above - below}, clip);
    for (const [level, label] of ticks(floor, top, 6)) {
      make("path", {class: "rule", d: line([[left, y(level)], [width - right, y(level)]])}, root);
      make("text", {class: "quiet", x: left - 6, y: y(level) + 4, "text-anchor": "end"}, root, label);
    }
    make("text", {class: "quiet", x: 2, y: 12}, root, "level [m]");
    const axis = ticks(start, end, width / 90);
    for (const [at, label] of axis) {
      make("text", {class: "quiet", x: x(at), y: height - below + 16, "text-anchor": "middle"}, root, label);
    }
    make("text", {class: "quiet", x: left, y: height - 6}, root, "← flow");
    make("text", {class: "quiet", x: width - right, y: height - 6, "text-anchor": "end"}, root, "distance upstream [m]");
    const plot = make("g", {"clip-path": "url(#section-clip)"}, root);
    const bed = section.bed[0].map((at, k) => [x(at), y(section.bed[1][k])]);
    drawWater(plot, section, x, y, bed);
    const ground = [...bed, [x(end), height], [x(start), height]];
    make("path", {class: "earth", d: `${line(ground)}Z`}, plot);
    section.extents.filter((extent) => !extent.hides).forEach((extent) => drawBody(plot, extent, x, y));
    if (base && held.size) drawSurface(plot, base.section, x, y, "before");
    drawSurface(plot, section, x, y, "water");
    section.extents.filter((extent) => extent.hides).forEach((extent) => drawBody(plot, extent, x, y));
    make("path", {class: "bed", d: line(bed)}, plot);
    section.extents.forEach((extent) => drawScreen(plot, extent, x, y, answer.blocked));
    drawBanks(plot, section, x, y);
    drawNames(root, section, x, above, width - right);
    room.replaceChildren(root);
    show("section-note", water.some((level) => level > top) || section.pieces.some((piece) => piece[1].includes(null))
      ? "The water stands higher than the picture, or there is no way through." : "");
  }

  function drawWater(plot, section, x, y, bed) {
    const ground = (at) => {
      const k = Math.max(1, section.bed[0].findIndex((place) => place >= at));
      const [a, b] = [section.bed[0][k - 1], section.bed[0][k]], share = b > a ? (at - a) / (b - a) : 1;
      return bed[k - 1][1] + Math.min(1, Math.max(0, share)) * (bed[k][1] - bed[k - 1][1]);
    };
    for (const [places, levels] of section.pieces) {
      const surface = places.map((at, k) => [x(at), y(levels[k])]);
      const feet = places.map((at) => [x(at), ground(at)]).reverse();
      make("path", {class: "wet", d: `${line([...surface, ...feet])}Z`}, plot);
    }
  }

  function drawSurface(plot, section, x, y, look) {
    for (const [places, levels] of section.pieces) {
      make("path", {class: look, d: line(places.map((at, k) => [x(at), y(levels[k])]))}, plot);
    }
  }

  function drawBody(plot, extent, x, y) {
    const [start, end] = extent.ends, [roof, upper] = extent.roof;
    if (roof !== null) {
      const thin = Math.max(roof, upper) + 0.12 * (roof - extent.bed[0]), over = extent.road === null ? thin : extent.road;
      const corners = [[start, roof], [end, upper], [end, Math.max(over, upper)], [start, Math.max(over, roof)]];
      make("path", {class: "stone", d: `${line(corners.map(([at, level]) => [x(at), y(level)]))}Z`}, plot);
      make("path", {class: "roof", d: line([[x(start), y(roof)], [x(end), y(upper)]])}, plot);
    } else if (extent.road !== null) {
      const corners = [[start, extent.bed[0]], [start, extent.road], [end, extent.road], [end, extent.bed[1]]];
      make("path", {class: "stone", d: `${line(corners.map(([at, level]) => [x(at), y(level)]))}Z`}, plot);
    }
    if (extent.relief.length) {
      make("path", {class: "relief", d: `${line(extent.relief.map(([at, level]) => [x(at), y(level)]))}Z`}, plot);
    }
  }

  function drawScreen(plot, extent, x, y, blocked) {
    const share = blocked[`${extent.id}.screen.blockage`];
    if (!extent.screen) return;
    const [foot, head] = extent.screen.map(([at, level]) => [x(at), y(level)]);
    const length = Math.hypot(head[0] - foot[0], head[1] - foot[1]);
    if (share > 0) {
      const look = {class: "debris", "stroke-dasharray": `${share * length / 8} ${(1 - share) * length / 8}`};
      make("path", {...look, d: line([foot, head])}, plot);
    }
    make("path", {class: "screen", "stroke-dasharray": "3 2", d: line([foot, head])}, plot);
    if (share === undefined) return;
    const words = `${Math.round(100 * share)} % blocked`;
    make("text", {class: "debris-words", x: head[0] + 6, y: head[1] + 14}, plot, words);
  }

  function drawBanks(plot, section, x, y) {
    const places = section.banks.map(([at, level]) => [x(at), y(level)]);
    make("path", {class: "bank-line", d: line(places)}, plot);
    section.banks.forEach(([place, level], k) => {
      const [at, up] = places[k], before = place > section.ends[1] - 0.25 * (section.ends[1] - section.ends[0]);
      make("path", {class: "bank", d: `M${at} ${up}l-5 -9h10z`}, plot);
      const look = {x: at + (before ? -8 : 8), y: up - 3, "text-anchor": before ? "end" : "start"};
      make("text", look, plot, `bank ${level.toFixed(2)}`);
    });
  }

  function drawNames(root, section, x, above, right) {
    const open = (extent) => extent.roof[0] === null && extent.road === null, taken = [];
    const clash = (begin, long) => taken.find(([low, high]) => begin < high && begin + long > low);
    for (const extent of [...section.extents].sort((a, b) => open(a) - open(b))) {
      const at = x(extent.ends[0]), end = x(extent.ends[1]), words = `${extent.id}: ${extent.kind}`, long = 6.6 * words.length;
      make("path", {class: "rule", d: line([[at, above - 14], [at, above]])}, root);
      let begin = Math.min(at + 4, right - long);
      for (let met = clash(begin, long); met && begin < end; met = clash(begin, long)) begin = met[1];
      if (clash(begin, long) || begin + long > Math.max(end, at + 4 + long) || begin + long > right + 1) continue;
      make("text", {x: begin, y: above - 6}, root, words);
      taken.push([begin, begin + long + 6]);
    }
  }

  // --- how likely the water stands higher ------------------------------------------------------------------------

  function drawCurve(answer) {
    const room = find("curve"), curve = answer.curve;
    if (!curve) {
      room.replaceChildren("No sample has a level.");
      return;
    }
    const width = Math.max(320, room.clientWidth), height = width < 600 ? 260 : 300;
    const left = 50, right = 14, above = 26, below = 40;
    const curves = base && held.size ? [curve, base.curve].filter(Boolean) : [curve];
    const marks = [answer.bank, answer.level].filter((level) => level !== null);
    const inner = (each) => each.level.filter((_, k) => each.probability[k] > 0.004 && each.probability[k] < 0.996);
    const known = [...curves.flatMap(inner), ...marks];
    const spread = Math.max(...known) - Math.min(...known), spare = 0.04 * Math.max(spread, 0.01);
    const low = Math.min(...known) - spare, high = Math.max(...known) + spare;
    const x = (level) => left + (level - low) / (high - low) * (width - left - right);
    const y = (share) => above + (1 - share) * (height - above - below);
    const root = make("svg", {viewBox: `0 0 ${width} ${height}`, role: "img"});
    root.setAttribute("aria-label", `Probability that the level is exceeded; over the bank ${answer.over[0]}`);
    const clip = make("clipPath", {id: "curve-clip"}, make("defs", {}, root));
    make("rect", {x: left, y: above - 3, width: width - left - right, height: height - above - below + 6}, clip);
    for (const share of [0, 0.25, 0.5, 0.75, 1]) {
      make("path", {class: "rule", d: line([[left, y(share)], [width - right, y(share)]])}, root);
      make("text", {class: "quiet", x: left - 6, y: y(share) + 4, "text-anchor": "end"}, root, `${100 * share} %`);
    }
    for (const [level, label] of ticks(low, high, width / 90)) {
      make("text", {class: "quiet", x: x(level), y: height - below + 16, "text-anchor": "middle"}, root, label);
    }
    make("text", {class: "quiet", x: width - right, y: height - 6, "text-anchor": "end"}, root, "level [m]");
    const plot = make("g", {"clip-path": "url(#curve-clip)"}, root);
    const along = (each, key) => [[left, y(1)], [x(each.level[0]), y(1)],
      ...each.level.map((level, k) => [x(level), y(each[key][k])]), [width, y(each[key].at(-1))]];
    make("path", {class: "wet", d: `${line([...along(curve, "low"), ...along(curve, "high").reverse()])}Z`}, plot);
    if (curves.length > 1) make("path", {class: "before", d: line(along(curves[1], "probability"))}, plot);
    make("path", {class: "water", d: line(along(curve, "probability"))}, plot);
    if (answer.bank !== null) {
      const at = x(answer.bank), end = at > width / 2;
      make("path", {class: "bank-line", d: line([[at, above], [at, y(0)]])}, root);
      const look = {x: at + (end ? -5 : 5), y: above - 8, "text-anchor": end ? "end" : "start"};
      make("text", look, root, `bank ${answer.bank_words}: ${answer.over[0]} over`);
    }
    room.replaceChildren(root);
  }

  // --- words -----------------------------------------------------------------------------------------------------

  const depthWords = (answer) => answer.level === null
    ? answer.level_words : `${answer.depth_words} ${answer.above ? "above" : "below"} the bank`;

  function row(cells) {
    const found = document.createElement("tr");
    cells.forEach(([words, look, note], k) => {
      const cell = document.createElement(k ? "td" : "th");
      if (!k) cell.scope = "row";
      if (look) cell.className = look;
      cell.textContent = words;
      if (note) cell.append(Object.assign(document.createElement("span"), {className: "note", textContent: note}));
      found.append(cell);
    });
    return found;
  }

  function list(id, texts) {
    find(id).replaceChildren(...texts.map((words) => Object.assign(document.createElement("li"), {textContent: words})));
  }

  function tell(answer) {
    show("level", answer.level_words);
    show("level-note", answer.level === null ? "" : depthWords(answer));
    find("level").closest("div").classList.toggle("over", answer.above);
    show("over", answer.over[0]);
    show("over-note", answer.over[1]);
    show("assured", answer.assured[0]);
    show("assured-note", answer.assured[1]);
    show("samples", answer.samples);
    show("lost", answer.lost && `${answer.lost}.`);
    find("elements").replaceChildren(...answer.elements.map((each) => row([
      [each.id], [each.level, "number"], [each.bank, "number"], [each.spare, "number"], [each.governs]])));
    list("remarks", answer.remarks);
  }

  function tellArrangements(answer) {
    find("arrangements").replaceChildren(...answer.rows.map((each) => each.missing
      ? row([[each.name], [each.missing]])
      : row([[each.name, "", each.kept], [each.level_words, "number"], [each.bank_words, "number"], [depthWords(each)],
        [each.over[0], "number", each.over[1]], [each.assured[0], "number", each.assured[1]]])));
  }

  function draw() {
    if (!now) return;
    drawSection(now);
    drawCurve(now);
  }

  // --- asking ----------------------------------------------------------------------------------------------------

  async function ask(path, question) {
    const reply = await fetch(path, {
      method: "POST", headers: {"Content-Type": "application/json"}, body: JSON.stringify(question),
    }).catch(() => { throw new Error("overbank no longer answers: its command was closed."); });
    const answer = await reply.json().catch(() => ({fault: "overbank cannot answer this: its model has failed here."}));
    if (!reply.ok) throw new Error(answer.fault);
    return answer;
  }

  function complain(words) {
    show("fault", words);
    find("fault").hidden = !words;
  }

  let busy = false, again = false;

  async function refresh() {
    again = true;
    if (busy) return;
    busy = true;
    document.body.dataset.state = "asking";
    try {
      while (again) {
        again = false;
        const question = {held: Object.fromEntries(held)}, begun = performance.now();
        now = await ask("answer", question);
        base = base || now;
        tell(now);
        draw();
        show("took", `${((performance.now() - begun) / 1000).toFixed(2)} s`);
        complain("");
        if (data.arrangements && !again) tellArrangements(await ask("arrangements", question));
      }
    } catch (error) {
      complain(error.message);
    }
    busy = false;
    document.body.dataset.state = "answered";
  }

  // --- numbers to move -------------------------------------------------------------------------------------------

  const decimals = (control) => Math.max(0, -Math.floor(Math.log10(control.step) + 1e-9));
  const shown = (control, value) => value.toFixed(decimals(control));

  const movers = data.controls.map((control) => {
    const field = [...document.querySelectorAll("#controls fieldset")].find((each) => each.dataset.name === control.name);
    const [slider, number] = field.querySelectorAll("input"), button = field.querySelector("button");

    function look() {
      const own = held.has(control.name), value = own ? held.get(control.name) : control.start;
      field.classList.toggle("held", own);
      button.hidden = !own;
      field.querySelector(".state").textContent = own ? "Held." : `Not held: ${control.said}.`;
      slider.setAttribute("aria-valuetext", `${shown(control, value)} ${control.unit}${own ? ", held" : ", not held"}`);
      find("reset").disabled = find("copy").disabled = held.size === 0;
    }
    function place(value) {
      slider.value = value;
      number.value = shown(control, value);
      number.classList.remove("wrong");
    }
    function hold(value) {
      held.set(control.name, value);
      look();
      refresh();
    }
    function release() {
      held.delete(control.name);
      place(control.start);
      look();
    }
    slider.addEventListener("input", () => {
      const value = Number(shown(control, Number(slider.value)));
      number.value = shown(control, value);
      number.classList.remove("wrong");
      hold(value);
    });
    slider.addEventListener("keydown", (event) => {
      const way = {ArrowRight: 1, ArrowUp: 1, ArrowLeft: -1, ArrowDown: -1, PageUp: 10, PageDown: -10}[event.key];
      if (!way) return;
      event.preventDefault();
      const wanted = Number(shown(control, Number(slider.value) + way * control.step));
      const value = Math.min(control.high, Math.max(control.low, wanted));
      place(value);
      hold(value);
    });
    number.addEventListener("input", () => {
      const value = number.valueAsNumber, fits = value >= control.low && value <= control.high;
      number.classList.toggle("wrong", !fits);
      if (!fits) {
        complain(`${control.words}: a number from ${control.low} to ${control.high} is needed.`);
        return;
      }
      slider.value = value;
      hold(value);
    });
    button.addEventListener("click", () => { release(); refresh(); });
    place(control.start);
    look();
    return release;
  });

  find("controls").addEventListener("submit", (event) => event.preventDefault());
  find("reset").addEventListener("click", () => {
    movers.forEach((release) => release());
    top = -Infinity;
    refresh();
  });

  // --- a copy ----------------------------------------------------------------------------------------------------

  let word = null;

  find("copy").addEventListener("click", async () => {
    try {
      const asked = await ask("copy", {held: Object.fromEntries(held), folder: find("folder").value.trim()});
      word = asked.word;
      show("ask-folder", asked.folder);
      show("ask-files", asked.files.join(", "));
      list("ask-held", data.controls.filter((each) => held.has(each.name)).map((each) =>
        `${each.words}: ${held.get(each.name)} ${each.unit}`));
      find("ask").showModal();
    } catch (error) {
      show("copied", error.message);
    }
  });
  find("refuse").addEventListener("click", () => find("ask").close());
  find("write").addEventListener("click", async () => {
    find("ask").close();
    try {
      const written = await ask("write", {word});
      show("copied", `Written: ${written.folder}. Run it with overbank run.`);
      find("folder").value = written.next;
    } catch (error) {
      show("copied", error.message);
    }
  });

  new ResizeObserver(draw).observe(find("section"));
  refresh();
})();
