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

// A file dropped anywhere goes into the form that takes its kind: sent if there is one such form, else left to choose.
const drops = [...document.querySelectorAll("form.drop")].map((form) => ({ form, input: form.querySelector("input[type=file]") }));

function taking(files) {
  const ends = (kinds, name) => !kinds || kinds.split(",").some((kind) => name.toLowerCase().endsWith(kind));
  return drops.filter(({ input }) => (input.multiple || files.length === 1) && [...files].every((file) => ends(input.accept, file.name)));
}

if (drops.length) {
  document.addEventListener("dragover", (event) => {
    if (event.dataTransfer.types.includes("Files")) event.preventDefault();
  });
  document.addEventListener("drop", (event) => {
    const files = event.dataTransfer.files;
    if (!files.length) return;
    event.preventDefault();
    const found = taking(files);
    if (!found.length) return say(`${files[0].name} is not taken here: ${drops.map(({ input }) => input.accept || "a job with the files that it names").join(", ")}.`);
    for (const { input } of found) input.files = files;
    if (found.length === 1) found[0].form.requestSubmit();
    else found[0].input.focus();
  });
}
