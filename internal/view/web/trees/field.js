// Keeps what is typed at the trees on this phone until the workbench has stored it. Without this script the buttons
// send the form. A draft is dropped only by the answer that shows it stored, and only where it has not been changed since.
(() => {
	const form = document.getElementById("readings"), said = document.getElementById("said");
	if (!form) return;
	const words = form.dataset, slot = "readings " + words.of;
	const cards = [...form.querySelectorAll("[data-unit]")];
	let drafts = {}, chain = Promise.resolve(), timer = 0;
	// Each draft has a key of its own, so that two tabs never write over one another's.
	const place1 = name => slot + "/" + name;
	function load(place) {
		const name = place?.startsWith(slot + "/") && place.slice(slot.length + 1);
		if (!name) return;
		const text = localStorage.getItem(place);
		try { if (text) drafts[name] = JSON.parse(text); else delete drafts[name]; } catch { /* not ours */ }
	}
	try {
		const old = JSON.parse(localStorage.getItem(slot)) ?? {}; // all in one, as they were once kept
		for (const name in old) localStorage.setItem(place1(name), JSON.stringify(old[name]));
		localStorage.removeItem(slot);
		for (const place of Object.keys(localStorage)) load(place);
	} catch { /* none */ }

	const when = () => form.date.value + " " + form.time.value;
	const key = card => when() + " " + card.dataset.unit;
	const fields = card => [...card.querySelectorAll("[data-field]")];
	const cardOf = unit => cards.find(c => c.dataset.unit === unit);

	function keep(...names) {
		try {
			for (const name of names) if (drafts[name]) localStorage.setItem(place1(name), JSON.stringify(drafts[name])); else localStorage.removeItem(place1(name));
		} catch { said.textContent = words.unkept; }
		const n = Object.keys(drafts).length;
		document.getElementById("waiting").textContent = n ? words.waiting.replace("#", n) : "";
		// What was refused stays in sight, with its reason, until someone decides it.
		document.getElementById("refused").replaceChildren(...Object.entries(drafts).filter(([, d]) => d.refused || !cardOf(d.unit)).map(([name, d]) => {
			const row = document.createElement("li"), away = Object.assign(document.createElement("button"), {type: "button", className: "small away", textContent: words.away});
			away.onclick = () => { if (!confirm(words.sure.replace("#", d.unit))) return; delete drafts[name]; keep(name); cards.forEach(show); };
			row.append(`${d.unit}, ${d.date} ${d.time}: ${Object.values(d.typed).filter(x => x).join("; ")}. ${d.refused || words.gone} `, away);
			return row;
		}));
	}
	function mark(card, text, odd = "") {
		const at = card.querySelector(".mark");
		at.replaceChildren(Object.assign(document.createElement("span"), {className: "draft", textContent: text}), " ",
			Object.assign(document.createElement("span"), {className: "fault", textContent: odd}));
	}
	function show(card) { // what is typed for the time that the page shows
		const draft = drafts[key(card)];
		for (const f of fields(card)) f.value = draft?.typed[f.dataset.field] ?? "";
		if (draft) mark(card, draft.wanted ? words.held : words.typed, less(card));
	}
	function less(card) {
		const f = fields(card)[0], last = parseFloat(f.dataset.last);
		return form.date.value >= f.dataset.day && parseFloat(f.value.replace(",", ".")) < last ? words.less.replace("#", f.dataset.last) : "";
	}
	// place puts the answer's marks on the cards that are shown for the same time.
	function place(page, units) {
		const now = page.getElementById("readings");
		if (!now || now.date.value + " " + now.time.value !== when()) return;
		for (const card of cards) if (!units || units.includes(card.dataset.unit))
			for (const next of now.querySelectorAll(`[data-unit="${CSS.escape(card.dataset.unit)}"] .live[id]`)) document.getElementById(next.id)?.replaceWith(next);
		document.getElementById("sum").replaceWith(page.getElementById("sum"));
	}
	// ask sends one request after the other: an answer never overtakes another.
	const ask = (address, options) => fetch(address, {signal: AbortSignal.timeout(15000), ...options}).then(async r => ({r, page: new DOMParser().parseFromString(await r.text(), "text/html")}));
	// send asks to store drafts of one time together: all of them or none, one change of the workbook.
	function send(names) {
		chain = chain.then(async () => {
			const sent = names.map(name => [name, drafts[name]]).filter(([, draft]) => draft?.wanted);
			if (!sent.length) return;
			const {date, time, way} = sent[0][1];
			const body = new URLSearchParams({trial: form.trial.value, season: form.season.value, date, time, way, do: "all"});
			sent.forEach(([, draft], n) => {
				body.set("unit." + n, draft.unit);
				for (const f in draft.typed) body.set(f + "." + n, draft.typed[f]);
				if (draft.over) body.set("over." + n, draft.over);
			});
			const units = sent.map(([, draft]) => draft.unit);
			const tell = text => { for (const [name, draft] of sent) say(cardOf(draft.unit), name, text); };
			try {
				const {r, page} = await ask(form.action, {method: "POST", body});
				if (r.status === 401) return tell(words.code);
				if (r.status !== 200 && r.status !== 409 && r.status !== 422) throw r.status;
				// All of what was sent is stored, or what the answer names.
				const listed = r.headers.get("Spile-Stored")?.split(" "), whole = r.status === 200;
				const stored = n => whole || listed?.includes(String(n)) === true;
				const why = [...page.querySelectorAll("[data-unknown]")].reduce((all, x) => ({...all, [x.dataset.unknown]: x.textContent}), {});
				const same = sent.map(([name, draft]) => drafts[name] === draft);
				sent.forEach(([name, draft], n) => {
					if (!same[n]) return;
					if (stored(n)) delete drafts[name];
					else { draft.wanted = false; if (why[draft.unit]) draft.refused = why[draft.unit]; }
				});
				keep(...sent.map(([name]) => name));
				place(page, units.filter((_, n) => !listed || !stored(n)));
				sent.forEach(([name, draft], n) => {
					const card = cardOf(draft.unit);
					if (!card || key(card) !== name) return;
					if (!same[n]) show(card);
					else if (stored(n)) { fields(card).forEach(f => { f.value = ""; }); if (!whole) mark(card, words.stored.replace("#", draft.unit)); }
					else if (!card.querySelector(".mark .fault")) mark(card, words.typed, less(card));
				});
				const of = yes => units.filter((_, n) => stored(n) === yes).join(", ");
				said.textContent = [of(true) && words.stored.replace("#", of(true)), of(false) && words.refused.replace("#", of(false))].filter(x => x).join(" ");
			} catch {
				tell(words.held);
				clearTimeout(timer);
				timer = setTimeout(all, 10000);
			}
		});
	}
	function say(card, name, text) { if (card && key(card) === name) mark(card, text); said.textContent = text; }
	// all asks again for what is wanted, as it was asked for.
	function all() {
		const together = {};
		for (const name in drafts) (together[drafts[name].asked ?? name] ??= []).push(name);
		for (const names of Object.values(together)) send(names);
	}
	function want(list, over = "") {
		const asked = String(Date.now()), names = [];
		for (const card of list) {
			const typed = Object.fromEntries(fields(card).map(f => [f.dataset.field, f.value.trim()]));
			if (!Object.values(typed).join("")) continue;
			drafts[key(card)] = {unit: card.dataset.unit, date: form.date.value, time: form.time.value, way: form.way.value, typed, over, asked, wanted: true};
			mark(card, words.sending);
			names.push(key(card));
		}
		keep(...names);
		send(names);
	}

	form.addEventListener("input", e => {
		const card = e.target.closest("[data-unit]");
		if (card) {
			const typed = Object.fromEntries(fields(card).map(f => [f.dataset.field, f.value]));
			if (Object.values(typed).join("").trim()) drafts[key(card)] = {unit: card.dataset.unit, date: form.date.value, time: form.time.value, way: form.way.value, typed, wanted: false};
			else delete drafts[key(card)];
			keep(key(card));
			mark(card, drafts[key(card)] ? words.typed : "", less(card));
		} else if (form.date.value) {
			cards.forEach(c => { mark(c, ""); show(c); });
			const address = form.action + "?" + new URLSearchParams({trial: form.trial.value, season: form.season.value, date: form.date.value, time: form.time.value, way: form.way.value});
			if (e.target === form.way) { location.href = address; return; }
			chain = chain.then(() => ask(address)).then(({page}) => { place(page); cards.forEach(show); }, () => { said.textContent = words.held; });
		}
	});
	form.addEventListener("submit", e => {
		const by = e.submitter, card = by?.closest("[data-unit]");
		if (by?.formMethod === "get" || by?.name === "drop") return;
		e.preventDefault();
		want(card ? [card] : cards, by.name.startsWith("over.") ? by.value : "");
	});
	form.addEventListener("click", e => {
		const leave = e.target.closest("[data-leave]"), card = leave?.closest("[data-unit]");
		if (!card) return;
		e.preventDefault();
		delete drafts[key(card)];
		keep(key(card));
		show(card);
		chain = chain.then(() => ask(leave.href)).then(({page}) => place(page, [card.dataset.unit]), () => {});
	});
	addEventListener("storage", e => { load(e.key); keep(); });
	addEventListener("online", all);
	document.addEventListener("visibilitychange", () => { if (!document.hidden) all(); });
	document.documentElement.classList.add("js");
	cards.forEach(c => { if (drafts[key(c)]) show(c); });
	keep();
	all();
})();
