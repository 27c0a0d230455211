"use strict";
(function () {
  var body = document.getElementById("front");
  var shown = document.getElementById("shown");
  if (!shown) {
    return;
  }
  var SVG = "http://www.w3.org/2000/svg";
  var FAR = 60;
  function all(query, within) {
    return Array.prototype.slice.call((within || document).querySelectorAll(query));
  }
  var articles = {};
  all("article", shown).forEach(function (article) {
    articles[article.getAttribute("data-point")] = article;
  });
  var total = Object.keys(articles).length;
  var state = { a: body.getAttribute("data-knee"), b: null, look: null };
  var against = document.getElementById("against");
  var readout = document.getElementById("readout");

  function name(number) {
    return "Point " + number + " of " + total;
  }
  function traded(number) {
    return all(".lead", articles[number])[0].firstChild.textContent.split(":")[0];
  }

  var charts = all(".front").map(function (drawing) {
    var spots = all(".spot[data-point]", drawing).map(function (group) {
      var number = group.getAttribute("data-point");
      group.setAttribute("role", "option");
      group.setAttribute("aria-label", name(number) + ": " + traded(number));
      return {
        number: number,
        group: group,
        x: Number(group.getAttribute("data-x")),
        y: Number(group.getAttribute("data-y"))
      };
    });
    var layer = document.createElementNS(SVG, "g");
    layer.setAttribute("aria-hidden", "true");
    // Below the lettering, which comes last, so that no ring hides a number.
    drawing.insertBefore(layer, drawing.lastElementChild);
    drawing.setAttribute("role", "listbox");
    drawing.setAttribute("tabindex", "0");
    drawing.classList.add("live");
    return { drawing: drawing, spots: spots, layer: layer };
  });

  function spotOf(chart, number) {
    return chart.spots.filter(function (spot) { return spot.number === number; })[0];
  }
  function shape(layer, tag, kind, given, text) {
    var made = document.createElementNS(SVG, tag);
    made.setAttribute("class", kind);
    Object.keys(given).forEach(function (key) { made.setAttribute(key, given[key]); });
    if (text) {
      made.textContent = text;
    }
    layer.appendChild(made);
  }
  function draw() {
    charts.forEach(function (chart) {
      chart.layer.textContent = "";
      chart.spots.forEach(function (spot) {
        spot.group.setAttribute("aria-selected", String(spot.number === state.a || spot.number === state.b));
      });
      ["a", "b"].forEach(function (which) {
        var spot = spotOf(chart, state[which]);
        if (!spot) {
          return;
        }
        if (which === "a") {
          shape(chart.layer, "circle", "pick", { cx: spot.x, cy: spot.y, r: 12 });
        } else {
          shape(chart.layer, "rect", "pick", { x: spot.x - 11, y: spot.y - 11, width: 22, height: 22 });
        }
        shape(chart.layer, "text", "letter", {
          x: spot.x + (which === "a" ? -22 : 12), y: spot.y - 12
        }, which.toUpperCase());
      });
      var looked = spotOf(chart, state.look);
      if (looked) {
        shape(chart.layer, "circle", "ring", { cx: looked.x, cy: looked.y, r: 16 });
        chart.drawing.setAttribute("aria-activedescendant", looked.group.id);
      }
    });
    all("#list tr[data-point]").forEach(function (row) {
      row.classList.toggle("seen", row.getAttribute("data-point") === state.look);
    });
  }
  function look(number) {
    if (state.look === number) {
      return;
    }
    state.look = number;
    readout.textContent = "";
    var strong = document.createElement("b");
    strong.textContent = name(number) + ": ";
    readout.appendChild(strong);
    all(".lead", articles[number])[0].childNodes.forEach(function (node) {
      readout.appendChild(node.cloneNode(true));
    });
    draw();
  }
  function pick(which, number) {
    state[which] = number;
    if (state.a === state.b) {
      state.b = null;
    }
    show();
  }

  function cell(row, tag, kind) {
    var made = document.createElement(tag);
    if (kind) {
      made.className = kind;
    }
    if (tag === "th") {
      made.setAttribute("scope", "row");
    }
    row.appendChild(made);
    return made;
  }
  function amount(value) {
    var size = Math.abs(value);
    return size >= 1000 ? size.toFixed(0) : String(Number(size.toPrecision(3)));
  }
  function gap(one, other) {
    var before = one.getAttribute("data-value"), after = other.getAttribute("data-value");
    if (before === "" || after === "") {
      return before === after ? "the same" : "";
    }
    var change = Number(after) - Number(before), unit = one.getAttribute("data-unit");
    if (Math.abs(change) < 1e-9) {
      return "the same";
    }
    var text = amount(change) + " " + unit;
    if (unit === "h") {
      var minutes = Math.round(Math.abs(change) * 60);
      text = minutes >= 60 ? Math.floor(minutes / 60) + " h " + minutes % 60 + " min" : minutes + " min";
    } else if (one.getAttribute("data-name") === "cost") {
      text = Math.abs(change).toFixed(2) + " " + unit;
    }
    return text.trim() + (change > 0 ? " more" : " less");
  }
  function compare() {
    against.hidden = state.b === null;
    var figures = document.getElementById("against-figures"), parts = document.getElementById("against-parts");
    figures.textContent = "";
    parts.textContent = "";
    if (state.b === null) {
      return;
    }
    var a = articles[state.a], b = articles[state.b];
    document.getElementById("against-a").textContent = "A, point " + state.a;
    document.getElementById("against-b").textContent = "B, point " + state.b;
    all(".glance > div", a).forEach(function (one) {
      var other = all(".glance > div", b).filter(function (div) {
        return div.getAttribute("data-name") === one.getAttribute("data-name");
      })[0];
      if (!other) {
        return;
      }
      var row = document.createElement("tr");
      cell(row, "th").textContent = one.getAttribute("data-name");
      cell(row, "td", "n").textContent = all("dd", one)[0].textContent;
      cell(row, "td", "n").textContent = all("dd", other)[0].textContent;
      cell(row, "td", "n").textContent = gap(one, other);
      figures.appendChild(row);
    });
    function rows(article) {
      var found = {};
      all("tr[data-part]", article).forEach(function (row) {
        var what = row.getAttribute("data-part");
        (found[what] = found[what] || []).push(row.cells[1]);
      });
      return found;
    }
    var mine = rows(a), theirs = rows(b);
    var names = Object.keys(mine).concat(Object.keys(theirs).filter(function (what) { return !mine[what]; }));
    function fill(place, cells) {
      if (!cells) {
        place.textContent = "none";
        return;
      }
      cells.forEach(function (from, index) {
        if (index) {
          place.appendChild(document.createTextNode(", "));
        }
        from.childNodes.forEach(function (node) { place.appendChild(node.cloneNode(true)); });
      });
    }
    names.forEach(function (what) {
      var row = document.createElement("tr");
      cell(row, "th").textContent = what;
      var left = cell(row, "td"), right = cell(row, "td");
      fill(left, mine[what]);
      fill(right, theirs[what]);
      if (left.textContent === right.textContent) {
        right.textContent = "the same";
      } else {
        right.className = "differs";
      }
      parts.appendChild(row);
    });
  }
  function show() {
    Object.keys(articles).forEach(function (number) {
      var flag = all(".flag", articles[number])[0];
      var which = number === state.a ? "A" : number === state.b ? "B" : "";
      articles[number].hidden = which === "";
      flag.hidden = which === "" || state.b === null;
      flag.textContent = which;
    });
    [state.a, state.b].forEach(function (number) {
      if (number !== null) {
        shown.appendChild(articles[number]);
      }
    });
    ["a", "b"].forEach(function (which) {
      all("input[name=" + which + "]").forEach(function (radio) {
        radio.checked = radio.value === state[which];
        radio.disabled = which === "b" && radio.value === state.a;
      });
    });
    compare();
    draw();
  }
  function turn(swapped) {
    var set = document.querySelector("input[name=turn]:checked").value;
    return swapped ? (set === "a" ? "b" : "a") : set;
  }
  function alone() {
    state.b = null;
    show();
  }

  function nearest(chart, event) {
    var matrix = chart.drawing.getScreenCTM();
    if (!matrix) {
      return null;
    }
    var at = new DOMPoint(event.clientX, event.clientY).matrixTransform(matrix.inverse());
    var best = null, least = FAR * FAR;
    chart.spots.forEach(function (spot) {
      var square = Math.pow(spot.x - at.x, 2) + Math.pow(spot.y - at.y, 2);
      if (square < least) {
        best = spot;
        least = square;
      }
    });
    return best;
  }
  function step(chart, key) {
    var level = key === "ArrowLeft" || key === "ArrowRight" || key === "Home" || key === "End";
    var ordered = chart.spots.slice().sort(function (one, other) {
      return level ? one.x - other.x || one.y - other.y : other.y - one.y || one.x - other.x;
    });
    var numbers = ordered.map(function (spot) { return spot.number; });
    var now = numbers.indexOf(state.look === null ? state.a : state.look);
    var then = { Home: 0, End: total - 1, ArrowLeft: now - 1, ArrowDown: now - 1 }[key];
    if (then === undefined) {
      then = now + 1;
    }
    return numbers[Math.min(Math.max(then, 0), total - 1)];
  }
  charts.forEach(function (chart) {
    chart.drawing.addEventListener("pointermove", function (event) {
      var spot = nearest(chart, event);
      if (spot) {
        look(spot.number);
      }
    });
    chart.drawing.addEventListener("click", function (event) {
      var spot = nearest(chart, event);
      if (spot) {
        look(spot.number);
        pick(turn(event.shiftKey), spot.number);
      }
    });
    chart.drawing.addEventListener("focus", function () {
      look(state.look === null ? state.a : state.look);
    });
    chart.drawing.addEventListener("keydown", function (event) {
      if (event.ctrlKey || event.altKey || event.metaKey) {
        return;
      }
      if (/^(Arrow|Home$|End$)/.test(event.key)) {
        look(step(chart, event.key));
      } else if (event.key === "Enter" || event.key === " ") {
        pick(turn(event.shiftKey), state.look);
      } else if (event.key === "Escape") {
        alone();
      } else {
        return;
      }
      event.preventDefault();
    });
  });
  ["a", "b"].forEach(function (which) {
    all("input[name=" + which + "]").forEach(function (radio) {
      radio.addEventListener("change", function () {
        look(radio.value);
        pick(which, radio.value);
      });
    });
  });
  all("#list a").forEach(function (link) {
    link.addEventListener("click", function (event) {
      event.preventDefault();
      var number = link.textContent;
      look(number);
      pick("a", number);
      articles[number].scrollIntoView();
    });
  });
  document.getElementById("alone").addEventListener("click", alone);
  function drawn() {
    var chosen = document.querySelector("input[name=draw]:checked");
    all(".chart").forEach(function (figure) {
      figure.hidden = chosen !== null && figure.id !== chosen.value;
    });
  }
  all("input[name=draw]").forEach(function (radio) { radio.addEventListener("change", drawn); });

  body.classList.add("scripting");
  all(".scripted").forEach(function (piece) {
    if (piece !== against) {
      piece.hidden = false;
    }
  });
  drawn();
  show();
  look(state.a);
})();
