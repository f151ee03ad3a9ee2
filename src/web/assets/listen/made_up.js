// Sounds that no child made, for the sound check. None is louder than a prepared word: their root
// mean square lies at or below -30 dB under full scale, where words lie at about -27.

const RATE = 48000;
// As long before a sound as before a prepared word.
const LEAD_IN_S = 0.3;
const HISS_S = 0.15;
const TONE_S = 0.4;
const RAMP_S = 0.01;
const TONE_RMS = 10 ** (-30 / 20);
const HISS_RMS = 10 ** (-36 / 20);

/** A tone like a vowel; with `hiss` 1 a short hiss before it, as in an s. */
export function beginning(hiss) {
  const samples = new Float32Array(seconds(LEAD_IN_S + hiss * HISS_S + TONE_S));
  let at = seconds(LEAD_IN_S);
  if (hiss) {
    samples.set(shaped(noise(seconds(HISS_S)), HISS_RMS, RAMP_S), at);
    at += seconds(HISS_S);
  }
  samples.set(shaped(hum(seconds(TONE_S)), TONE_RMS, RAMP_S), at);
  return buffer([samples]);
}

/**
 * Three tones of 200 Hz, of which the one at place `softest` is 6 dB softer; of the others, one
 * has its two channels against each other, so that it nearly vanishes in the air of a room but not
 * over headphones (after Woods, Siegel, Traer and McDermott 2017; from memory).
 */
export function threeTones(softest) {
  const tone = seconds(1);
  const gap = seconds(0.5);
  const left = new Float32Array(seconds(LEAD_IN_S) + 3 * tone + 2 * gap);
  const right = new Float32Array(left.length);
  const others = [0, 1, 2].filter((place) => place !== softest);
  const against = others[Math.floor(Math.random() * 2)];
  for (let place = 0; place < 3; place += 1) {
    const rms = place === softest ? TONE_RMS / 2 : TONE_RMS;
    const one = shaped(sine(tone, 200), rms, 0.1);
    const at = seconds(LEAD_IN_S) + place * (tone + gap);
    left.set(one, at);
    right.set(place === against ? one.map((sample) => -sample) : one, at);
  }
  return buffer([left, right]);
}

function buffer(channels) {
  const made = new AudioBuffer({ numberOfChannels: channels.length, length: channels[0].length, sampleRate: RATE });
  channels.forEach((samples, channel) => made.copyToChannel(samples, channel));
  return made;
}

function seconds(time) {
  return Math.round(time * RATE);
}

function sine(length, hertz) {
  return Float32Array.from({ length }, (_, at) => Math.sin((2 * Math.PI * hertz * at) / RATE));
}

// Ten harmonics of 160 Hz, each softer than the one before.
function hum(length) {
  const harmonics = Array.from({ length: 10 }, (_, number) => sine(length, 160 * (number + 1)));
  return Float32Array.from({ length }, (_, at) =>
    harmonics.reduce((sum, harmonic, number) => sum + harmonic[at] / (number + 1), 0),
  );
}

// White noise, twice differenced: little is left of it below 4 kHz.
function noise(length) {
  let samples = Float32Array.from({ length: length + 2 }, () => 2 * Math.random() - 1);
  for (let time = 0; time < 2; time += 1) {
    samples = samples.map((sample, at) => sample - (samples[at - 1] ?? 0));
  }
  return samples.slice(2);
}

// Brought to a root mean square, with raised-cosine ramps at both ends.
function shaped(samples, rms, ramp) {
  const mean = Math.sqrt(samples.reduce((sum, sample) => sum + sample * sample, 0) / samples.length);
  const ends = seconds(ramp);
  return samples.map((sample, at) => {
    const from = Math.min(at, samples.length - 1 - at, ends) / ends;
    return ((sample * rms) / mean) * 0.5 * (1 - Math.cos(Math.PI * from));
  });
}
