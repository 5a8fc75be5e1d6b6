// The engine's worker. It unpacks the engine and the evidence, then answers one question after the other; of several
// that wait only the latest is worth answering.
let ready, waiting = null, at = 0;

// Base 85, with z for four zeros and v for the sign that might begin a tag.
const bytes = text => {
	const out = new Uint8Array(4 * Math.ceil((text.length + 4 * (text.split('z').length - 1)) / 5));
	let at = 0, group = 0, n = 0;
	const put = count => {
		for (let shift = 24; count--; shift -= 8) out[at++] = group >>> shift & 255;
		group = n = 0;
	};
	for (let i = 0; i < text.length; i++) {
		const c = text.charCodeAt(i);
		if (c === 122) { put(4); continue; }
		group = group * 85 + (c === 118 ? 60 : c) - 33;
		if (++n === 5) put(4);
	}
	if (n) {
		const count = n - 1;
		for (; n < 5; n++) group = group * 85 + 84;
		put(count);
	}
	return out.subarray(0, at);
};
// unpacked is a part of the page as a stream: from its text, or from where it stands beside the page.
const unpacked = async part => {
	let packed;
	if (typeof part === 'object') { // a text has a method named at
		const said = await fetch(part.at);
		if (!said.ok) throw new Error(part.at + ' ' + said.status);
		packed = said.body;
	} else packed = new Blob([bytes(part)]).stream();
	return packed.pipeThrough(new DecompressionStream('gzip'));
};

// What the engine says when it falls over, which the page tells.
const last = [];
console.log = console.error = (...words) => last.push(words.join(' '));
const answer = text => {
	const said = room(text);
	if (said === undefined) throw new Error(last.slice(0, 12).join(' '));
	return JSON.parse(said);
};

async function open({ engine, evidence }) {
	const go = new Go();
	go.env = { GOGC: 'off', GOMEMLIMIT: '56MiB' }; // nothing is swept up before a phone would mind
	const made = await WebAssembly.instantiateStreaming(
		new Response(await unpacked(engine), { headers: { 'Content-Type': 'application/wasm' } }), go.importObject);
	go.run(made.instance);
	const opened = answer(new Uint8Array(await new Response(await unpacked(evidence)).arrayBuffer()));
	if (opened.error) throw new Error(opened.error);
	postMessage({ ready: true });
}

// Between two steps of an answer the worker listens, so that a newer question takes the place of an older one.
async function work() {
	for (at++; waiting; ) {
		const q = waiting;
		waiting = null;
		for (const what of q.steps) {
			const said = answer(JSON.stringify({ What: what, Lang: q.lang, Units: q.units, Typed: q.typed }));
			postMessage({ id: q.id, what, ...said });
			if (said.error || said.answer && said.answer.faults) break;
			await new Promise(done => setTimeout(done));
			if (waiting) break;
		}
	}
	at--;
}

onmessage = async ({ data }) => {
	try {
		if (data.engine) {
			ready = open(data);
			await ready;
			return;
		}
		waiting = data;
		await ready;
		if (!at) await work();
	} catch (error) {
		postMessage({ error: String(error) });
	}
};
