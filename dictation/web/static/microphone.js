// The microphone, in the browser's sound thread: 16 kHz mono samples as 16-bit numbers, a tenth of a second at once.
"use strict";
class Microphone extends AudioWorkletProcessor {
  constructor() {
    super();
    this.piece = new Int16Array(1600);
    this.filled = 0;
    this.loudest = 0;
  }

  process(inputs) {
    const channels = inputs[0];
    if (channels.length === 0) return true;
    for (let i = 0; i < channels[0].length; i++) {
      let value = 0;
      for (const channel of channels) value += channel[i] / channels.length;
      this.loudest = Math.max(this.loudest, Math.abs(value));
      this.piece[this.filled++] = Math.max(-32768, Math.min(32767, Math.round(value * 32768)));
      if (this.filled === this.piece.length) {
        this.port.postMessage({ pcm: this.piece, level: this.loudest });
        this.piece = new Int16Array(1600);
        this.filled = 0;
        this.loudest = 0;
      }
    }
    return true;
  }
}
registerProcessor("microphone", Microphone);
