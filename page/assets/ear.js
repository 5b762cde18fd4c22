// Takes the microphone's samples off the audio thread, a hundredth of a second or so at a time.
class Ear extends AudioWorkletProcessor {
  constructor() {
    super();
    this.hold = new Float32Array(1600);
    this.at = 0;
  }
  process(inputs) {
    const heard = inputs[0][0];
    if (!heard) return true;
    for (let i = 0; i < heard.length; i++) {
      this.hold[this.at++] = heard[i];
      if (this.at === this.hold.length) {
        this.port.postMessage(this.hold, [this.hold.buffer]);
        this.hold = new Float32Array(1600);
        this.at = 0;
      }
    }
    return true;
  }
}
registerProcessor("ear", Ear);
