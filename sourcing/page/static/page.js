/* A panel that could not be asked for anew says so: what stood in it belongs to what the form said before. */
for (const failed of ["htmx:sendError", "htmx:timeout"]) {
  document.addEventListener(failed, event => {
    const panel = event.detail.target;
    if (panel) panel.textContent = "The page does not answer. Look whether it still runs, then change something again.";
  });
}
