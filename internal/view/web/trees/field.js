// Keeps what is typed at the trees on this phone until the workbench has stored it. Without this script the buttons
// send the form. A draft is dropped only by the answer that shows it stored, and only where it has not been changed since.
(() => {
	const form = document.getElementById("readings"), said = document.getElementById("said");
	if (!form) return;
	const words = form.dataset, slot = "readings " + words.of;
	const cards = [...form.querySelectorAll("[data-unit]")];
	let drafts = {}, chain = Promise.resolve(), timer = 0;
	try { drafts = JSON.parse(localStorage.getItem(slot)) ?? {}; } catch { /* none */ }

	const when = () => form.date.value + " " + form.time.value;
	const key = card => when() + " " + card.dataset.unit;
	const fields = card => [...card.querySelectorAll("[data-field]")];
	const cardOf = unit => cards.find(c => c.dataset.unit === unit);

	function keep() {
		try { localStorage.setItem(slot, JSON.stringify(drafts)); } catch { said.textContent = words.unkept; }
		const n = Object.keys(drafts).length;
		document.getElementById("waiting").textContent = n ? words.waiting.replace("#", n) : "";
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
	function send(name) {
		chain = chain.then(async () => {
			const draft = drafts[name];
			if (!draft?.wanted) return;
			const body = new URLSearchParams({trial: form.trial.value, season: form.season.value, date: draft.date, time: draft.time, way: draft.way, do: "0", "unit.0": draft.unit});
			for (const f in draft.typed) body.set(f + ".0", draft.typed[f]);
			if (draft.over) body.set("over.0", draft.over);
			const card = cardOf(draft.unit);
			try {
				const {r, page} = await ask(form.action, {method: "POST", body});
				if (r.status === 401) return say(card, name, words.code);
				if (r.status !== 200 && r.status !== 409 && r.status !== 422) throw r.status;
				const same = drafts[name] === draft, stored = r.status === 200;
				if (stored && same) delete drafts[name]; else if (same) draft.wanted = false;
				keep();
				place(page, [draft.unit]);
				if (card && key(card) === name) { if (stored && same) fields(card).forEach(f => { f.value = ""; }); else if (!same) show(card); }
				said.textContent = (stored ? words.stored : words.refused).replace("#", draft.unit);
			} catch {
				say(card, name, words.held);
				clearTimeout(timer);
				timer = setTimeout(all, 10000);
			}
		});
	}
	function say(card, name, text) { if (card && key(card) === name) mark(card, text); said.textContent = text; }
	function all() { for (const name in drafts) send(name); }
	function want(card, over = "") {
		const typed = Object.fromEntries(fields(card).map(f => [f.dataset.field, f.value.trim()]));
		if (!Object.values(typed).join("")) return;
		drafts[key(card)] = {unit: card.dataset.unit, date: form.date.value, time: form.time.value, way: form.way.value, typed, over, wanted: true};
		keep();
		mark(card, words.sending);
		send(key(card));
	}

	form.addEventListener("input", e => {
		const card = e.target.closest("[data-unit]");
		if (card) {
			const typed = Object.fromEntries(fields(card).map(f => [f.dataset.field, f.value]));
			if (Object.values(typed).join("").trim()) drafts[key(card)] = {unit: card.dataset.unit, date: form.date.value, time: form.time.value, way: form.way.value, typed, wanted: false};
			else delete drafts[key(card)];
			keep();
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
		if (card) want(card, by.name.startsWith("over.") ? by.value : ""); else cards.forEach(c => want(c));
	});
	form.addEventListener("click", e => {
		const leave = e.target.closest("[data-leave]"), card = leave?.closest("[data-unit]");
		if (!card) return;
		e.preventDefault();
		delete drafts[key(card)];
		keep();
		show(card);
		chain = chain.then(() => ask(leave.href)).then(({page}) => place(page, [card.dataset.unit]), () => {});
	});
	addEventListener("online", all);
	document.addEventListener("visibilitychange", () => { if (!document.hidden) all(); });
	document.documentElement.classList.add("js");
	cards.forEach(c => { if (drafts[key(c)]) show(c); });
	keep();
	all();
})();
