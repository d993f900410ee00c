// What the page does besides its forms: says when the server does not answer. Everything else works without it.
const trouble = document.getElementById("trouble");

function say(words) {
  trouble.textContent = words;
  trouble.hidden = !words;
}

document.body.addEventListener("htmx:sendError", () => say("The page's server does not answer. Start geartrack serve again; what was typed up to the last answer is kept."));
document.body.addEventListener("htmx:responseError", (event) => say(event.detail.xhr.responseText.slice(0, 300)));
document.body.addEventListener("htmx:afterOnLoad", () => say(""));

// How to take a reading, and its drawing, come up beside the entry that is being typed.
document.addEventListener("focusin", (event) => {
  const how = event.target.closest(".entry")?.querySelector("details:has(img)");
  if (how && event.target.matches("input")) how.open = true;
});
