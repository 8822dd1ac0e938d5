// Comfort only: "/" opens the field that finds things. Without this the word "Find" in the head and foot leads there.
document.addEventListener("keydown", (event) => {
  const inField = event.target.closest("input, textarea, select, [contenteditable]");
  if (event.key !== "/" || inField || event.ctrlKey || event.altKey || event.metaKey) return;
  const field = document.getElementById("words");
  const link = document.querySelector("a[rel=search]");
  if (!field && !link) return;
  event.preventDefault();
  if (field) { field.focus(); field.select(); } else { link.click(); }
});
