"use strict";
// Copies a text to the clipboard and says so; where the browser forbids it, the text is selected for the person to copy.
for (const button of document.querySelectorAll("[data-copies]")) {
  button.addEventListener("click", async () => {
    const text = document.getElementById(button.dataset.copies);
    const says = document.getElementById("copied");
    try {
      await navigator.clipboard.writeText(text.value);
      says.textContent = "Copied. Paste it into your reply.";
    } catch {
      text.focus();
      text.select();
      says.textContent = "The reply is selected: copy it now.";
    }
  });
}
