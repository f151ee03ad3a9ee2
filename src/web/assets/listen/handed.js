// Where one laptop is handed round: a page that comes back from behind the back button asks the server anew, which knows who
// is here now.

window.addEventListener("pageshow", (event) => {
  if (event.persisted) location.reload();
});
