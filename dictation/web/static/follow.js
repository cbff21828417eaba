// Keeps this tab in step with the review, wherever it is decided, and leaves when the session has ended.
"use strict";
const follow = {
  base: document.body.dataset.base,
  version: Number(document.body.dataset.version),
  changed: () => location.reload(),
  lost: () => {},
};

follow.leave = () => location.assign("/enter?to=" + encodeURIComponent(location.pathname));

follow.start = () => {
  const socket = new WebSocket("ws://" + location.host + follow.base + "/follow");
  let told = 0;
  socket.onmessage = (event) => {
    const news = JSON.parse(event.data);
    if (news.locked) follow.leave();
    else if (news.gone) follow.lost(news.gone);
    else if (news.version !== follow.version) follow.changed(news.version);
  };
  socket.onclose = () => {
    follow.lost("The program does not answer. Where it was stopped, start it again; everything decided is kept.");
    setTimeout(follow.start, 3000);
  };
  const here = () => {
    if (socket.readyState === WebSocket.OPEN && Date.now() - told > 20000) {
      told = Date.now();
      socket.send("here");
    }
  };
  for (const kind of ["keydown", "pointerdown", "scroll"]) addEventListener(kind, here, { capture: true, passive: true });
};

if (follow.base) follow.start();
