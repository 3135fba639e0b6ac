"use strict";
/* Four sounds and a spoken sentence: repeated until answered, silenced by one touch, logged once. */
(() => {
  const { now, store } = window.curewatch;
  /* pitch [Hz] and length [s] of each note */
  const NOTES = {
    ending: [[880, .25], [0, .1], [880, .25]],
    due: [[660, .2], [880, .2], [1320, .4]],
    stop: [[1400, .3], [700, .3], [1400, .3], [700, .3]],
    lost: [[1000, .5], [0, .15], [620, .5]],
  };
  const REPEAT_MS = 8000;
  const speakButton = document.getElementById("speak");
  const silenceButton = document.getElementById("silence");
  const on = (name) => store.get(name) !== "off";
  let audio = null, alarms = [], nextSound = 0;
  const hushed = new Set(), spoken = new Set(), unlogged = new Map();

  /* browsers let a page sound only after it was touched */
  function arm() {
    if (!window.AudioContext) return;
    audio ??= new AudioContext();
    if (audio.state === "suspended") audio.resume();
  }
  const able = () => audio !== null && audio.state === "running";

  function note(pitch, length, at) {
    const tone = audio.createOscillator(), loud = audio.createGain();
    tone.type = "triangle";
    tone.frequency.value = pitch;
    loud.gain.setValueAtTime(0, at);
    loud.gain.linearRampToValueAtTime(.6, at + .02);
    loud.gain.setValueAtTime(.6, at + length - .03);
    loud.gain.linearRampToValueAtTime(0, at + length);
    tone.connect(loud).connect(audio.destination);
    tone.start(at);
    tone.stop(at + length);
  }
  function play(kind) {
    if (!able()) return false;
    let at = audio.currentTime + .02;
    for (const [pitch, length] of NOTES[kind]) {
      if (pitch) note(pitch, length, at);
      at += length;
    }
    return true;
  }
  function speak(text) {
    if (!on("speech") || !window.speechSynthesis) return;
    speechSynthesis.cancel();
    speechSynthesis.speak(new SpeechSynthesisUtterance(text));
  }

  /* what was really heard is kept with its step, where it has one, as soon as the server answers */
  async function log() {
    for (const [key, step] of [...unlogged]) {
      unlogged.delete(key);
      try {
        const body = new URLSearchParams({ key });
        const answer = await fetch(`/step/${step}/sounded`, { method: "POST", body, headers: { "X-Live": "1" } });
        if (answer.status >= 500) throw new Error(answer.status);
      } catch { unlogged.set(key, step); return; }
    }
  }

  const tooLate = (alarm, at) => alarm.kind === "ending" && at - alarm.at > 600000;
  const open = (at) => alarms.filter((alarm) => alarm.at <= at && !hushed.has(alarm.key) && !tooLate(alarm, at));
  /* a phone is the remote: it silences the other screens, whether it sounds itself or not */
  const remote = () => document.documentElement.dataset.layout === "phone";
  function listen(at) {
    const found = open(at), alarm = on("sound") ? found[0] : undefined;
    silenceButton.hidden = !(alarm && able()) && !(remote() && found.some((each) => !each.once));
    speakButton.hidden = !alarm || able();
    if (alarm) document.body.dataset.sounding = alarm.kind; else delete document.body.dataset.sounding;
    if (!alarm || performance.now() < nextSound || !play(alarm.sound)) return;
    nextSound = performance.now() + REPEAT_MS;
    if (alarm.once) hushed.add(alarm.key);
    if (spoken.has(alarm.key)) return;
    spoken.add(alarm.key);
    if (alarm.step) { unlogged.set(alarm.key, alarm.step); log(); }
    setTimeout(() => speak(alarm.say), 1200);
  }
  /* one touch silences all that sounds now; what comes later sounds again */
  function quiet() {
    const at = now();
    for (const alarm of alarms) if (alarm.at <= at) hushed.add(alarm.key);
    window.speechSynthesis?.cancel();
    listen(at);
  }
  /* and on every other screen and lamp */
  function everywhere() {
    quiet();
    fetch("/silence", { method: "POST", headers: { "X-Live": "1" } }).catch(() => {});
  }

  /* the settings page's buttons, which come and go with it */
  const NAMED = { sound: "Sound", speech: "Speech" };
  function labelled() {
    for (const [id, name] of Object.entries(NAMED)) {
      const button = document.getElementById(id), text = `${name} ${on(id) ? "on" : "off"}`;
      if (button?.firstChild && button.firstChild.nodeValue !== text) button.firstChild.nodeValue = text;
      button?.setAttribute("aria-pressed", on(id));
    }
  }
  document.addEventListener("click", (event) => {
    const button = event.target.closest?.("#sound, #speech, [data-try]");
    if (!button) return;
    if (button.dataset.try) { arm(); setTimeout(() => { play(button.dataset.try); speak(button.textContent); }, 60); return; }
    store.set(button.id, on(button.id) ? "off" : "on");
    labelled();
  });
  document.addEventListener("tick", (event) => { labelled(); listen(event.detail); });
  document.addEventListener("state", (event) => {
    alarms = event.detail.alarms;
    for (const key of event.detail.pressed.silenced) hushed.add(key);
    log();
  });
  document.addEventListener("pointerdown", arm);
  document.addEventListener("keydown", arm);
  silenceButton.addEventListener("click", everywhere);
  speakButton.addEventListener("click", () => { arm(); nextSound = 0; });
})();
