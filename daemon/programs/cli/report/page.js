(function () {
  "use strict";
  const data = JSON.parse(document.getElementById("data").textContent);
  const DAY = 86400;
  const days = data.length_s / DAY;
  const columnDays = days / data.columns;
  const AXIS = 20, ROW = 17, MARK = 14, TICKS = 13, HEAD = 17, RIGHT = 10;
  const STEPS = [1 / 8, 1 / 4, 1 / 2, 1, 2, 5, 7, 10, 20, 50, 100];

  const clock = (at) => {
    const minutes = Math.round(at * 1440);
    const two = (n) => String(n).padStart(2, "0");
    return "day " + (Math.floor(minutes / 1440) + 1) + " " + two(Math.floor(minutes / 60) % 24) +
      ":" + two(minutes % 60);
  };
  const cut = (text, most) => (text.length > most ? text.slice(0, most - 1) + "\u2026" : text);

  /* Columns are put together where the paper is narrower than they are many. */
  function merged(extent, by) {
    const out = [];
    for (let at = 0; at < data.columns; at += by) {
      let least = Infinity, most = -Infinity;
      for (let i = at; i < Math.min(at + by, data.columns); ++i) {
        if (extent.least[i] === null) continue;
        least = Math.min(least, extent.least[i]);
        most = Math.max(most, extent.most[i]);
      }
      out.push(least > most ? null : { at: (at + by / 2) * columnDays, least, most });
    }
    return out;
  }

  /* What a strip shows: all of it, unless a few extremes would flatten the rest. */
  function range(strip) {
    const values = [];
    for (const extent of [strip.truth, strip.sensed]) {
      for (const side of [extent.least, extent.most]) {
        for (const value of side) if (value !== null) values.push(value);
      }
    }
    values.sort(d3.ascending);
    let low = d3.quantile(values, 0.005), high = d3.quantile(values, 0.995);
    for (const [, kept, from, to] of strip.bands) {
      if (!kept) continue;
      if (from !== null) low = Math.min(low, from);
      if (to !== null) high = Math.max(high, to);
    }
    const all = [values[0], values[values.length - 1]];
    const room = (high - low) * 0.5 || 1;
    if (all[0] > low - room) low = Math.min(low, all[0]);
    if (all[1] < high + room) high = Math.max(high, all[1]);
    return [low, high === low ? low + 1 : high];
  }

  function heightOf(air, strip) {
    return 2 * AXIS + air.tubs.length * ROW + (air.faults.length ? ROW : 0) +
      (air.alerts.length ? MARK : 0) + air.strips.length * (strip + HEAD) +
      air.actuators.length * TICKS + 12;
  }

  function axis(svg, x, y, step, grid) {
    const ticks = d3.range(0, days - step / 4, step);
    const told = (at) => {
      if (Math.abs(at - Math.round(at)) < 1e-6) return "day " + (Math.round(at) + 1);
      return clock(at).split(" ")[2];
    };
    const made = grid > 0 ? d3.axisTop(x) : d3.axisBottom(x);
    svg.append("g").attr("class", "axis").attr("transform", "translate(0," + y + ")")
      .call(made.tickValues(ticks).tickFormat(told).tickSizeInner(grid > 0 ? -grid : 4)
        .tickSizeOuter(0));
  }

  function phases(svg, x, tub, y, left, bottom) {
    svg.append("text").attr("x", left - 6).attr("y", y + 12).attr("text-anchor", "end")
      .text(cut(tub.tub, 10)).append("title").text(tub.tub);
    for (const phase of tub.phases) {
      const from = x(phase.from_s / DAY), to = x(phase.to_s / DAY);
      svg.append("rect").attr("class", "phase").attr("x", from).attr("y", y + 1)
        .attr("width", Math.max(0, to - from)).attr("height", ROW - 3)
        .append("title").text(phase.phase);
      const room = Math.floor((to - from - 6) / 6);
      if (room > 2) {
        svg.append("text").attr("x", from + 4).attr("y", y + 12).text(cut(phase.phase, room));
      }
      if (bottom && phase.from_s > 0) {
        svg.append("line").attr("class", "turn").attr("x1", from).attr("x2", from)
          .attr("y1", y).attr("y2", bottom);
      }
    }
  }

  function faults(svg, x, air, y, left, bottom, hatch) {
    svg.append("text").attr("class", "faint").attr("x", left - 6).attr("y", y + 12)
      .attr("text-anchor", "end").text("faults");
    for (const fault of air.faults) {
      const from = x(Math.min(fault.from_s / DAY, days));
      const width = Math.max(2, x(Math.min(fault.to_s / DAY, days)) - from);
      if (fault.from_s > data.length_s) continue;
      svg.append("rect").attr("class", "within").attr("x", from).attr("width", width)
        .attr("y", y + ROW).attr("height", bottom - y - ROW).attr("fill", "url(#" + hatch + ")");
      svg.append("rect").attr("class", "fault").attr("x", from).attr("width", width)
        .attr("y", y + 1).attr("height", ROW - 3).attr("fill", "url(#" + hatch + ")")
        .append("title").text(fault.number + " " + fault.word);
      svg.append("text").attr("x", from + width + 2).attr("y", y + 12).text(fault.number);
    }
  }

  function alerts(svg, x, air, y, left) {
    svg.append("text").attr("class", "faint").attr("x", left - 6).attr("y", y + 10)
      .attr("text-anchor", "end").text("alerts");
    svg.append("path").attr("class", "alert").attr("d", air.alerts.map((alert) =>
      "M" + (x(alert.at_s / DAY) - 4).toFixed(1) + "," + (y + 11) + "l4,-8l4,8z").join(""));
  }

  /* The band as steps: an edge that does not end goes to the edge of the paper. */
  function bands(svg, x, y, strip) {
    const [bottom, top] = y.range();
    const place = (value, none) =>
      (value === null ? none : Math.max(top, Math.min(bottom, y(value))));
    const knots = [];
    strip.bands.forEach(([column, kept, low, high], i) => {
      const next = i + 1 < strip.bands.length ? strip.bands[i + 1][0] : data.columns;
      for (const at of [column, next]) {
        knots.push({
          x: x(at * columnDays), kept, lower: place(low, bottom), upper: place(high, top),
          ends: [kept && low !== null, kept && high !== null],
        });
      }
    });
    svg.append("path").attr("class", "band").attr("d", d3.area().defined((k) => k.kept)
      .x((k) => k.x).y0((k) => k.lower).y1((k) => k.upper)(knots));
    ["lower", "upper"].forEach((which, i) => {
      svg.append("path").attr("class", "edge").attr("d", d3.line().defined((k) => k.ends[i])
        .x((k) => k.x).y((k) => k[which])(knots));
    });
  }

  function strips(svg, x, strip, y0, height, left, width, clip, by) {
    const y = d3.scaleLinear().domain(range(strip)).nice(4).range([y0 + height, y0]);
    bands(svg, x, y, strip);
    svg.append("rect").attr("class", "frame").attr("x", left).attr("y", y0)
      .attr("width", width - left - RIGHT).attr("height", height);
    svg.append("g").attr("class", "axis").attr("transform", "translate(" + left + ",0)")
      .call(d3.axisLeft(y).ticks(Math.max(2, height / 26)).tickSizeOuter(0)
        .tickFormat((value) => value / strip.scale));
    const drawn = svg.append("g").attr("clip-path", "url(#" + clip + ")");
    const line = (which) => d3.line().defined((p) => p !== null).x((p) => x(p.at))
      .y((p) => y(p[which]));
    const truth = merged(strip.truth, by), sensed = merged(strip.sensed, by);
    drawn.append("path").attr("class", "truth").attr("d", d3.area().defined((p) => p !== null)
      .x((p) => x(p.at)).y0((p) => y(p.least)).y1((p) => y(p.most))(truth));
    for (const which of ["least", "most"]) {
      if (strip.beside) {
        drawn.append("path").attr("class", "beside")
          .attr("d", line(which)(merged(strip.beside, by)));
      }
      drawn.append("path").attr("class", "sensed").attr("d", line(which)(sensed));
    }
    svg.append("text").attr("x", left).attr("y", y0 - 4).attr("class", "name")
      .text(strip.word + ", " + strip.unit);
  }

  function ticks(svg, x, actuator, y, left, by) {
    svg.append("text").attr("x", left - 6).attr("y", y + 10).attr("text-anchor", "end")
      .text(cut(actuator.id, 10)).append("title").text(actuator.id);
    let path = "";
    for (let at = 0; at < data.columns; at += by) {
      const duty = d3.mean(actuator.duty.slice(at, at + by)) / 1000;
      if (duty <= 0) continue;
      const high = Math.max(2, Math.sqrt(Math.min(1, duty)) * (TICKS - 2));
      path += "M" + x((at + by / 2) * columnDays).toFixed(1) + "," + (y + TICKS - 1) + "v" +
        (-high).toFixed(1);
    }
    svg.append("path").attr("class", "tick-marks").attr("d", path);
  }

  function told(air, column) {
    const at = column * columnDays;
    const parts = air.strips.map((strip) => {
      const span = (extent) => {
        const low = extent.least[column], high = extent.most[column];
        if (low === null) return "-";
        const a = low / strip.scale, b = high / strip.scale;
        return a === b ? String(a) : a + ".." + b;
      };
      return strip.word + " " + span(strip.truth) + " " + strip.unit + ", sensed " +
        span(strip.sensed);
    });
    for (const actuator of air.actuators) {
      parts.push(actuator.id + " " + (actuator.duty[column] / 10).toFixed(1) + " %");
    }
    return clock(at) + ": " + parts.join("; ");
  }

  function follow(svg, x, air, readout, bottom) {
    const hair = svg.append("line").attr("class", "hair").attr("y1", AXIS).attr("y2", bottom);
    svg.on("pointermove", function () {
      const at = x.invert(d3.mouse(this)[0]);
      if (at < 0 || at > days) return;
      const column = Math.min(data.columns - 1, Math.floor(at / columnDays));
      hair.attr("x1", x(at)).attr("x2", x(at)).style("visibility", "visible");
      readout.textContent = told(air, column);
    });
    svg.on("pointerleave", () => hair.style("visibility", null));
  }

  function draw(figure, width) {
    const air = data.airs[Number(figure.dataset.air)];
    const paper = figure.querySelector(".paper");
    const narrow = width < 600;
    const left = 70, strip = narrow ? 84 : 110;
    const height = heightOf(air, strip), bottom = height - AXIS;
    const x = d3.scaleLinear().domain([0, days]).range([left, width - RIGHT]);
    const by = Math.max(1, Math.ceil(data.columns / (width - left - RIGHT)));
    const step = STEPS.find((s) => x(s) - x(0) >= 58) || 200;
    const id = "air" + figure.dataset.air;
    paper.textContent = "";
    const svg = d3.select(paper).append("svg").attr("viewBox", "0 0 " + width + " " + height)
      .attr("role", "img").attr("aria-label", figure.querySelector("figcaption").textContent +
        ": readings, outputs, phases, faults and alerts by day; the tables below have the figures");
    const defs = svg.append("defs");
    defs.append("pattern").attr("id", id + "hatch").attr("width", 5).attr("height", 5)
      .attr("patternUnits", "userSpaceOnUse").append("path").attr("class", "hatch")
      .attr("d", "M0,5L5,0");
    axis(svg, x, AXIS, step, bottom - AXIS);
    let y = AXIS;
    air.tubs.forEach((tub, i) => {
      phases(svg, x, tub, y, left, i === 0 ? bottom : 0);
      y += ROW;
    });
    if (air.faults.length) {
      faults(svg, x, air, y, left, bottom, id + "hatch");
      y += ROW;
    }
    if (air.alerts.length) {
      alerts(svg, x, air, y, left);
      y += MARK;
    }
    air.strips.forEach((one, i) => {
      const clip = id + "clip" + i;
      y += HEAD;
      defs.append("clipPath").attr("id", clip).append("rect").attr("x", left).attr("y", y)
        .attr("width", width - left - RIGHT).attr("height", strip);
      strips(svg, x, one, y, strip, left, width, clip, by);
      y += strip;
    });
    y += 6;
    for (const actuator of air.actuators) {
      ticks(svg, x, actuator, y, left, by);
      y += TICKS;
    }
    axis(svg, x, bottom, step, 0);
    follow(svg, x, air, figure.querySelector(".readout"), bottom);
  }

  const PRINTED = 700; /* CSS pixels of an A4 page within its margins */
  let drawnAt = 0;
  function drawAll(width) {
    if (width === drawnAt || width < 50) return;
    drawnAt = width;
    for (const figure of document.querySelectorAll("figure")) draw(figure, width);
  }
  const wide = () => Math.floor(document.querySelector("main").clientWidth);
  drawAll(wide());
  window.addEventListener("resize", () => drawAll(wide()));
  window.addEventListener("beforeprint", () => drawAll(PRINTED));
  window.addEventListener("afterprint", () => drawAll(wide()));
})();
