// Every chart stays the drawing that it is until it is pointed at, or its button is pressed. Then the same chart is drawn anew
// with tooltips and a legend that filters. Print, and browsers that cannot unpack the program, keep the drawing.
const packed = document.getElementById("explorer");
let unpacked;

async function unpack() {
  const bytes = Uint8Array.from(atob(packed.textContent), (letter) => letter.charCodeAt(0));
  const stream = new Blob([bytes]).stream().pipeThrough(new DecompressionStream("gzip"));
  const { program, specs } = await new Response(stream).json();
  const script = document.createElement("script");
  script.textContent = `"use strict";(() => {${program}})();`;
  document.head.append(script);
  return specs;
}

async function explore(figure) {
  unpacked ??= unpack();
  const spec = (await unpacked)[figure.id.slice("chart-".length)];
  const place = document.createElement("div");
  place.className = "explored";
  const drawing = figure.querySelector("svg");
  place.setAttribute("role", "img"); // one picture with one description, as the drawing is
  place.setAttribute("aria-label", drawing.querySelector("desc").textContent);
  await window.vegaEmbed(place, spec, { mode: "vega-lite", renderer: "svg", actions: false, ast: true });
  place.querySelector("svg").setAttribute("aria-hidden", "true");
  figure.prepend(place);
  drawing.classList.add("still");
}

if ("DecompressionStream" in window) {
  for (const figure of document.querySelectorAll("figure[data-explorable]")) {
    const button = document.createElement("button");
    button.textContent = "Explore this chart";
    const hint = document.createElement("p");
    hint.className = "hint";
    hint.textContent = "Point at a mark to read its numbers; click a legend entry to see its marks alone.";
    const begin = () => {
      figure.removeEventListener("pointerenter", begin);
      button.replaceWith(hint);
      explore(figure);
    };
    figure.addEventListener("pointerenter", begin);
    button.addEventListener("click", begin);
    figure.append(button);
  }
}
