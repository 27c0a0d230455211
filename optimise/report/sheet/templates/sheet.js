"use strict";
(function () {
  var sheet = document.getElementById("sheet");
  var key = "rushlight-sheet:" + sheet.getAttribute("data-record");
  var fields = Array.prototype.slice.call(document.querySelectorAll("[data-keep]"));
  var kept = {};
  try {
    kept = JSON.parse(window.localStorage.getItem(key)) || {};
  } catch (error) {
    kept = {};
  }
  if (typeof kept !== "object" || Array.isArray(kept)) {
    kept = {};
  }
  function isBox(field) {
    return field.type === "checkbox";
  }
  function store() {
    try {
      window.localStorage.setItem(key, JSON.stringify(kept));
    } catch (error) {
      // Where storage is refused, ticks last as long as the page is open.
    }
  }
  function count() {
    Array.prototype.forEach.call(document.querySelectorAll("[data-counts]"), function (told) {
      var boxes = document.querySelectorAll("#" + told.getAttribute("data-counts") + " input[type=checkbox]");
      var done = Array.prototype.filter.call(boxes, function (box) { return box.checked; }).length;
      told.textContent = done + " of " + boxes.length + " ticked";
    });
  }
  fields.forEach(function (field) {
    var value = Object.prototype.hasOwnProperty.call(kept, field.id) ? kept[field.id] : null;
    if (isBox(field)) {
      field.checked = value === true;
    } else if (typeof value === "string") {
      field.value = value;
    }
    field.addEventListener(isBox(field) ? "change" : "input", function () {
      var given = isBox(field) ? field.checked : field.value;
      if (given === false || given === "") {
        delete kept[field.id];
      } else {
        kept[field.id] = given;
      }
      store();
      count();
    });
  });
  count();
})();
