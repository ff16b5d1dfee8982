"use strict";
// The sound of the listening panel. Everything that must be exact to the sample
// works on any BaseAudioContext, so that it can be rendered offline and checked.
const panelAudio = (() => {
	const crossfade = 0.02; // seconds between two intervals; linear, for they are nearly equal
	const edge = 0.008; // seconds of fade at the ends of a stretch that repeats

	// planar reads 24-bit little-endian samples, one channel after the other.
	function planar(bytes, channels, frames) {
		const view = new DataView(bytes);
		if (view.byteLength !== 3 * channels * frames) throw new Error("clip of the wrong size");
		const out = [];
		for (let c = 0, at = 0; c < channels; c++) {
			const x = new Float32Array(frames);
			for (let i = 0; i < frames; i++, at += 3) {
				x[i] = (view.getUint16(at, true) | view.getInt8(at + 2) << 16) / 8388608;
			}
			out.push(x);
		}
		return out;
	}

	// stretch makes a buffer of the frames from..to with soft ends, which repeats
	// without a click.
	function stretch(context, rate, channels, from, to) {
		const length = to - from;
		const buffer = context.createBuffer(channels.length, length, rate);
		const fade = Math.min(Math.round(edge * rate), Math.floor(length / 2));
		channels.forEach((all, c) => {
			const x = all.slice(from, to);
			for (let i = 0; i < fade; i++) {
				const g = 0.5 - 0.5 * Math.cos(Math.PI * (i + 0.5) / fade);
				x[i] *= g;
				x[length - 1 - i] *= g;
			}
			buffer.copyToChannel(x, c);
		});
		return buffer;
	}

	// A Deck plays equally long buffers together, all from the same instant, and
	// lets one of them through.
	class Deck {
		constructor(context, buffers) {
			this.context = context;
			this.out = context.createGain();
			this.out.connect(context.destination);
			this.voices = buffers.map((buffer) => {
				const source = context.createBufferSource();
				source.buffer = buffer;
				source.loop = true;
				const gain = context.createGain();
				gain.gain.value = 0;
				source.connect(gain).connect(this.out);
				return { source, gain: gain.gain, from: 0, to: 0, at: -1 };
			});
		}

		start(when, offset, first) {
			this.began = when - offset;
			this.at = when;
			this.length = this.voices[0].source.buffer.duration;
			this.out.gain.setValueAtTime(0, when);
			this.out.gain.linearRampToValueAtTime(1, when + crossfade);
			this.voices.forEach((v, i) => {
				v.from = v.to = i === first ? 1 : 0;
				v.gain.setValueAtTime(v.to, when);
				v.source.start(when, offset);
			});
		}

		// select crossfades to a voice, also out of a crossfade that still runs.
		select(index, when) {
			this.voices.forEach((v, i) => {
				const part = Math.min(Math.max((when - v.at) / crossfade, 0), 1);
				v.from += part * (v.to - v.from);
				v.to = i === index ? 1 : 0;
				v.at = when;
				// Cancelling takes a ramp away from its beginning; what of it lies
				// before this instant is put back.
				v.gain.cancelScheduledValues(when);
				if (part < 1) v.gain.linearRampToValueAtTime(v.from, when);
				else v.gain.setValueAtTime(v.from, when);
				v.gain.linearRampToValueAtTime(v.to, when + crossfade);
			});
		}

		// position is the place in the stretch that is heard at a time, in seconds.
		position(when) {
			return Math.max(0, when - this.began) % this.length;
		}

		stop(when) {
			this.out.gain.cancelScheduledValues(when);
			this.out.gain.setValueAtTime(Math.min(Math.max((when - this.at) / crossfade, 0), 1), when);
			this.out.gain.linearRampToValueAtTime(0, when + crossfade);
			this.voices.forEach((v) => v.source.stop(when + crossfade));
		}
	}

	return { crossfade, planar, stretch, Deck };
})();

(() => {
	const page = document.body.dataset.page;
	const $ = (id) => document.getElementById(id);
	const say = (text) => { $("status").textContent = text; };
	const wait = (ms) => new Promise((done) => setTimeout(done, ms));

	// audio opens the context at the clips' own rate where the browser allows it.
	function audio(rate) {
		try { return new AudioContext({ sampleRate: rate, latencyHint: "interactive" }); } catch { return new AudioContext(); }
	}

	async function bytes(path) {
		const r = await fetch(path);
		if (!r.ok) throw new Error((await r.json().catch(() => ({}))).error || "The panel refused a clip.");
		return r.arrayBuffer();
	}

	if (page === "level") level();
	if (page === "listen") listen();

	const post = (path, body) => fetch(path, { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(body) });

	function level() {
		const { rate, frames, least } = Object.fromEntries(Object.entries(document.body.dataset).map(([k, v]) => [k, Number(v)]));
		let context, source, gain, began = 0;
		const go = $("go"), words = go.textContent;
		const allow = () => { go.disabled = false; go.textContent = "Go on"; };
		const played = async () => {
			const seconds = context.currentTime - began;
			const r = await post("/noise", { seconds });
			if (r.ok && seconds >= least) allow();
		};
		$("noise").addEventListener("click", async () => {
			if (source) {
				await played().catch(() => {});
				gain.gain.linearRampToValueAtTime(0, context.currentTime + 0.1);
				source.stop(context.currentTime + 0.1);
				source = null;
			} else {
				try {
					context ||= audio(rate);
					await context.resume();
					const samples = panelAudio.planar(await bytes("/noise"), 1, frames);
					const buffer = context.createBuffer(1, frames, rate);
					buffer.copyToChannel(samples[0], 0);
					source = context.createBufferSource();
					source.buffer = buffer;
					source.loop = true;
					gain = context.createGain();
					gain.gain.setValueAtTime(0, context.currentTime);
					gain.gain.linearRampToValueAtTime(1, context.currentTime + 3); // never at once
					source.connect(gain).connect(context.destination);
					source.start();
					began = context.currentTime;
					const playing = source;
					setTimeout(() => { if (source === playing) played().catch(() => {}); }, 1000 * least + 200);
				} catch (e) { say(e.message); return; }
			}
			$("noise").setAttribute("aria-pressed", String(!!source));
			$("noise").textContent = source ? "Stop the noise" : "Play the reference noise";
			say(source ? "The noise comes in over three seconds." : "");
			if (source && go.textContent === words) go.textContent = "Set the volume by the noise …";
		});
		addEventListener("pageshow", (e) => { if (e.persisted) location.reload(); });
	}

	function listen() {
		let context, trial, sounds = [], deck, heard = 0, chosen = 0, busy = false, shown = false, autoplay = false;
		const visited = new Set();
		const words = ["very annoying", "annoying", "slightly annoying", "perceptible, not annoying", "imperceptible"];

		load();

		async function load() {
			busy = true;
			for (;;) {
				try {
					const r = await fetch("/trial", { headers: { Accept: "application/json" } });
					const got = await r.json();
					if (!r.ok) throw new Error(got.error);
					if (got.over) { location.href = "/over"; return; }
					if (got.rest) { await rest(got.rest); continue; }
					const clips = await Promise.all(got.clips.map((c) => bytes("/clip/" + c)));
					sounds = clips.map((b) => panelAudio.planar(b, got.channels, got.frames));
					trial = got;
					break;
				} catch (e) {
					say((e instanceof TypeError ? "The panel does not answer." : e.message) + " Trying again …");
					await wait(2000);
				}
			}
			busy = false;
			show();
		}

		// rest counts down a break; there is nothing to play meanwhile.
		async function rest(seconds) {
			stop();
			trial = undefined;
			$("intervals").replaceChildren();
			$("mark").disabled = $("play").disabled = true;
			$("task").textContent = "A break for your ears";
			for (let left = Math.ceil(seconds); left > 0; left--) {
				say("It goes on in " + left + " s. Your place is kept.");
				await wait(1000);
			}
			say("");
			$("play").disabled = false;
		}

		// The time for which each interval was heard, s, and the switches between them.
		let times = [], switches = 0, since = 0;
		function count() {
			if (deck && trial) {
				times[heard] += context.currentTime - since;
				since = context.currentTime;
			}
		}
		const enough = () => trial && times.every((t) => t >= trial.listen);
		setInterval(() => { count(); if (trial && !busy) refresh(); }, 100);

		function show() {
			heard = chosen = 0;
			times = trial.clips.map(() => 0);
			switches = 0;
			shown = false;
			visited.clear();
			const rounds = trial.graded && !trial.triple;
			$("progress").textContent = (trial.practice ? "Practice, " + (rounds ? "r" : "t") : rounds ? "R" : "T") + (rounds ? "ound " : "rial ") + trial.number + " of about " + trial.about;
			$("done").value = (trial.number - 1) / trial.about;
			$("task").textContent = trial.graded ? (trial.practice ? "Practice: how different" : "How different") + (trial.triple ? " from the reference? One of the two is the reference." : " from the reference?")
				: trial.practice ? "Practice: which one is the odd one out?" : "Which one is the odd one out?";
			buildIntervals();
			if (Number($("to").max) !== seconds()) wholeClip(); // a stretch stays from trial to trial
			resumeAt = 0;
			drawShape();
			refresh();
			say(autoplay ? "" : "Press Play, or the space bar.");
			$("task").focus();
			if (autoplay) play();
		}

		function buildIntervals() {
			const box = $("intervals");
			box.replaceChildren();
			box.classList.toggle("grades", !!trial.graded);
			trial.clips.forEach((_, i) => {
				const b = document.createElement("button");
				b.type = "button";
				b.className = "interval";
				b.append(trial.graded ? (i === 0 ? "Reference" : "Sample " + i) : String(i + 1), document.createElement("small"));
				b.addEventListener("click", (e) => { hear(i); if (e.detail) b.blur(); });
				if (trial.graded) box.append(row(b, i)); else box.append(b);
			});
		}

		// row puts a slider beside a sample of a graded round.
		function row(button, i) {
			const div = document.createElement("div");
			div.className = "row";
			div.append(button);
			if (i > 0) {
				const label = document.createElement("label"), slider = document.createElement("input"), out = document.createElement("output");
				slider.type = "range"; slider.min = 1; slider.max = 5; slider.step = 0.1; slider.value = 3; // no grade until it is moved or touched
				slider.classList.add("unset");
				slider.id = "grade" + i;
				out.textContent = "not graded yet";
				const grade = () => {
					slider.dataset.moved = "yes";
					slider.classList.remove("unset");
					const v = Number(slider.value);
					out.textContent = v.toFixed(1) + " " + words[Math.round(v) - 1];
					slider.setAttribute("aria-valuetext", out.textContent);
					chosen = 0;
					refresh();
				};
				// Touching a slider where it stands is a grade too.
				for (const e of ["input", "pointerup"]) slider.addEventListener(e, grade);
				slider.addEventListener("keydown", (e) => { if (e.key.startsWith("Arrow") || e.key === "End" || e.key === "Home") grade(); });
				label.append(out, slider);
				div.append(label);
			}
			return div;
		}

		const buttons = () => [...document.querySelectorAll(".interval")];
		const sliders = () => [...document.querySelectorAll("#intervals input")];
		const graded = () => sliders().every((s) => s.dataset.moved);
		const named = () => !trial.triple || sliders().some((s) => s.value === s.max); // the reference is one of the two
		const complete = () => visited.size === trial.clips.length && enough() && graded() && named();

		// Ten times a second a page that nothing happens on is written nothing.
		const write = (e, text) => { if (e.textContent !== text) e.textContent = text; };
		const press = (b, down) => { if (b.getAttribute("aria-pressed") !== String(down)) b.setAttribute("aria-pressed", String(down)); };

		function refresh() {
			buttons().forEach((b, i) => {
				press(b, i === heard);
				const long = visited.has(i) && times[i] >= trial.listen ? "enough" : "";
				if (b.dataset.heard !== long) b.dataset.heard = long;
				b.classList.toggle("odd", chosen === i + 1 && !trial.graded);
				const small = shown && trial.graded ? (i === shown.odd ? "the reference" : i === shown.low ? (trial.triple ? "the rendering" : "largest difference") : "") : chosen === i + 1 && !trial.graded ? "odd one"
					: i === heard && deck ? "playing" : b.dataset.heard ? "heard" : visited.has(i) ? "a little longer" : "";
				write(b.querySelector("small"), small);
			});
			write($("play"), deck ? "Pause" : "Play");
			press($("play"), !!deck);
			const mark = $("mark"), done = complete();
			mark.hidden = chosen > 0 && !shown;
			$("sure").hidden = !mark.hidden;
			mark.disabled = !done || busy;
			if (shown) write(mark, trial.graded ? "Go on" : "Next trial");
			else if (trial.graded) write(mark, done ? (trial.triple ? "Done with this pair" : "Done with this round") : trial.triple && graded() && !named() ? "One of them is the reference: give it 5.0" : "Hear and grade every sample first");
			else write(mark, done ? "Interval " + (heard + 1) + " is the odd one" : visited.size < trial.clips.length ? "Listen to all three first" : "Listen a little longer");
			write($("save"), trial.graded ? "Save the grades" : "Save: interval " + chosen);
			$("save").disabled = busy;
		}

		async function open() {
			if (context) return;
			const probe = new AudioContext(), device = probe.sampleRate;
			probe.close();
			context = audio(trial.rate);
			const played = context.sampleRate;
			if (played !== trial.rate || device !== trial.rate) {
				$("resampled").hidden = false;
				$("resampled").textContent = "The clips have " + trial.rate + " Hz; " + (played !== trial.rate
					? "this browser plays them at " + played + " Hz, resampled."
					: "this audio device prefers " + device + " Hz, so they may be resampled on the way to it.") + " All intervals alike; it is noted with your result.";
			}
			post("/rates", { played, device }).catch(() => {});
		}

		const bounds = () => {
			const from = Math.round(Number($("from").value) * trial.rate), to = Math.round(Number($("to").value) * trial.rate);
			return [from, Math.min(Math.max(to, from + 1), trial.frames)];
		};

		let starting = false;
		async function play(offset = 0) {
			if (deck || starting) return;
			starting = true;
			try {
				await open();
				await context.resume();
			} catch (e) {
				say("No sound here: " + e.message);
				return;
			} finally {
				starting = false;
			}
			const [from, to] = bounds();
			deck = new panelAudio.Deck(context, sounds.map((s) => panelAudio.stretch(context, trial.rate, s, from, to)));
			deck.start(context.currentTime + 0.03, Math.min(offset, deck.voices[0].source.buffer.duration - 0.001), heard);
			visited.add(heard);
			since = context.currentTime;
			autoplay = true;
			refresh();
			follow();
		}

		let resumeAt = 0;
		function pause() {
			count();
			resumeAt = deck.position(context.currentTime);
			deck.stop(context.currentTime);
			deck = null;
			refresh();
		}

		function toggle() {
			if (busy && !sounds.length) return;
			say("");
			if (deck) pause(); else play(resumeAt);
		}

		function hear(i) {
			if (!trial || i < 0 || i >= trial.clips.length) return;
			count();
			if (i !== heard) switches++;
			heard = i;
			if (!shown) { chosen = 0; say(""); }
			if (deck) { deck.select(i, context.currentTime + 0.005); visited.add(i); } else play(resumeAt);
			if (trial.graded && i > 0) $("grade" + i).focus();
			refresh();
		}

		function mark() {
			if (busy || !trial || !complete()) return;
			if (shown) { next(); return; }
			chosen = heard + 1;
			refresh();
			$("save").focus();
			say(trial.graded ? "Save these grades? They are final." : "Save interval " + chosen + " as the odd one? Answers are final.");
		}

		function back() {
			if (!chosen || shown || busy) return;
			chosen = 0;
			refresh();
			say("");
			$("task").focus();
		}

		async function save() {
			if (busy || !chosen || shown) return;
			busy = true;
			refresh();
			count();
			const body = { trial: trial.trial, heard: times.map((t) => Math.round(t * 1000) / 1000), switches };
			if (trial.graded) body.grades = sliders().map((s) => Number(s.value)); else body.choice = chosen;
			for (;;) {
				let r, got;
				try {
					r = await post("/answer", body);
					got = await r.json();
				} catch {
					say("Not saved yet: the panel does not answer. Trying again …");
					await wait(1500);
					continue;
				}
				busy = false;
				if (r.ok && got.saved) return receipt(got);
				if (r.status === 409 || r.status === 404) { say(got.error); await wait(1500); stop(); return load(); }
				say(got.error || "That did not work.");
				refresh();
				return;
			}
		}

		function receipt(got) {
			if (!trial.practice) { next("Saved."); return; }
			shown = got;
			if (trial.graded) {
				refresh();
				say("Sample " + got.odd + " was the hidden reference, sample " + got.low + (trial.triple ? " the rendering." : " the largest difference.") + " You may go on listening. Practice does not count.");
				$("mark").focus();
				return;
			}
			const mine = chosen;
			chosen = got.odd;
			refresh();
			say((got.right ? "Right: interval " + got.odd + " is the odd one." : "Interval " + got.odd + " is the odd one; you said " + mine + ".") + " You may go on listening. Enter for the next trial.");
			$("mark").focus();
		}

		function stop() {
			if (deck) pause();
			resumeAt = 0;
		}

		function next(text) {
			stop();
			say(text || "");
			busy = true; // until the next is there
			refresh();
			$("task").textContent = "One moment …";
			load();
		}

		// The stretch.
		const seconds = () => Math.ceil(100 * trial.frames / trial.rate) / 100;
		function wholeClip() {
			for (const id of ["from", "to"]) $(id).max = seconds();
			$("from").value = 0;
			$("to").value = seconds();
			resumeAt = 0;
			spanText();
		}

		function spanText() {
			$("span").textContent = Number($("from").value).toFixed(2) + " to " + Number($("to").value).toFixed(2) + " s";
		}

		function changed(which) {
			const minimum = 0.15, from = $("from"), to = $("to"), end = Number(to.max);
			if (Number(to.value) - Number(from.value) < minimum) {
				if (which === "from") { from.value = Math.max(0, Math.min(Number(from.value), end - minimum)); to.value = Number(from.value) + minimum; }
				else { to.value = Math.max(Number(to.value), minimum); from.value = Number(to.value) - minimum; }
			}
			resumeAt = 0;
			spanText();
			drawShape();
			if (deck) { pause(); play(0); }
			resumeAt = 0;
		}

		function here() { return Number($("from").value) + (deck ? deck.position(context.currentTime) : resumeAt); }

		// One drawing for all intervals: the mean of them. It is painted when it changes; while
		// sound plays, a copy of it is put back under the line that moves, 25 times a second.
		let peaks = [], painted = document.createElement("canvas"), frame = 0, timer = 0;
		function drawShape() {
			const canvas = $("shape"), columns = Math.max(60, Math.floor(canvas.clientWidth / 3));
			peaks = [];
			const per = trial.frames / columns;
			for (let c = 0; c < columns; c++) {
				let peak = 0;
				for (let i = Math.floor(c * per); i < Math.floor((c + 1) * per); i += 4) {
					let sum = 0;
					for (const s of sounds) sum += s[0][i];
					peak = Math.max(peak, Math.abs(sum) / sounds.length);
				}
				peaks.push(peak);
			}
			paint();
			follow();
		}

		function paint() {
			const canvas = $("shape"), width = canvas.clientWidth, height = canvas.clientHeight, scale = devicePixelRatio || 1;
			for (const c of [canvas, painted]) [c.width, c.height] = [width * scale, height * scale];
			const g = painted.getContext("2d");
			g.scale(scale, scale);
			const from = Number($("from").value), to = Number($("to").value);
			const top = Math.max(...peaks, 1e-6), step = width / peaks.length;
			peaks.forEach((p, i) => {
				const at = i / peaks.length * seconds(), h = Math.max(1, p / top * (height - 10));
				g.fillStyle = at >= from && at < to ? "#55606e" : "#d4d6d9";
				g.fillRect(i * step, (height - h) / 2, Math.max(1, step - 1), h);
			});
		}

		// follow shows where the sound is, until it has stopped.
		function follow() {
			cancelAnimationFrame(frame);
			clearTimeout(timer);
			frame = requestAnimationFrame(() => {
				const canvas = $("shape"), g = canvas.getContext("2d");
				if (!trial || !canvas.width) return;
				g.clearRect(0, 0, canvas.width, canvas.height);
				g.drawImage(painted, 0, 0);
				if (!deck) return;
				const scale = devicePixelRatio || 1;
				g.fillStyle = "#a84300";
				g.fillRect((here() / seconds() * canvas.clientWidth - 1) * scale, 0, 2 * scale, canvas.height);
				timer = setTimeout(follow, 40);
			});
		}

		addEventListener("resize", () => { if (trial) drawShape(); });
		$("play").addEventListener("click", (e) => { toggle(); if (e.detail) $("play").blur(); });
		$("mark").addEventListener("click", mark);
		$("save").addEventListener("click", save);
		$("back").addEventListener("click", back);
		$("from").addEventListener("input", () => changed("from"));
		$("to").addEventListener("input", () => changed("to"));
		$("whole").addEventListener("click", () => { wholeClip(); changed("to"); });

		document.addEventListener("keydown", (e) => {
			if (e.ctrlKey || e.altKey || e.metaKey || !trial) return;
			if (e.repeat) { // a key held down must not save an answer
				if (e.key === "Enter" || e.key === " ") e.preventDefault();
				return;
			}
			const on = document.activeElement, pressed = on && (on.tagName === "BUTTON" || on.tagName === "SUMMARY");
			const digit = "0123456789".indexOf(e.key);
			if (digit >= 0 && e.key.length === 1) { hear(trial.graded ? digit : digit - 1); e.preventDefault(); return; }
			switch (e.key) {
			case " ": if (pressed) return; toggle(); break;
			case "Enter": if (pressed) return; mark(); break;
			case "Escape": back(); break;
			case ",": $("from").value = here(); changed("from"); break;
			case ".": $("to").value = here(); changed("to"); break;
			case "-": wholeClip(); changed("to"); break;
			default: return;
			}
			e.preventDefault();
		});
	}
})();
