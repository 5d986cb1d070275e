new EventSource("/api/stream").addEventListener("view", (event) => {
  document.getElementById("view").textContent = JSON.stringify(JSON.parse(event.data), null, 1);
});
