// Keeps what is typed at the trees on this phone until the workbench has stored it, whatever its address is by then.
// Without this script the buttons send the form. A draft is dropped only by the answer that names it, and only where it
// has not been changed since.
(() => {
	const shelf = document.getElementById("drafts"), form = document.getElementById("readings"), said = document.getElementById("said");
	if (!shelf) return;
	const words = shelf.dataset, cards = form ? [...form.querySelectorAll("[data-unit]")] : [], drafts = {};
	let chain = Promise.resolve(), timer = 0;
	// Each draft has a key of its own, so that two tabs never write over one another's.
	const placeOf = d => `readings ${d.trial} ${d.season}/${d.date} ${d.time} ${d.unit}`;
	const placed = /^readings (.+?) (\d{4})\/\d{4}-\d\d-\d\d \S* /;
	// An id tells what was typed apart from what was typed in its place; n is the order, which no clock can turn round.
	const name = () => [...crypto.getRandomValues(new Uint32Array(4))].map(x => x.toString(36)).join("");
	function count() {
		let n = Math.max(0, ...Object.values(drafts).map(d => d.n || 0));
		try { localStorage.setItem("readings-count", n = Math.max(n, Number(localStorage.getItem("readings-count")) || 0) + 1); } catch { n++; }
		return n;
	}
	function load(place) {
		const of = placed.exec(place ?? "");
		if (!of) return;
		try {
			const d = JSON.parse(localStorage.getItem(place));
			if (d?.typed) drafts[place] = {trial: of[1], season: of[2], n: 0, ...d, id: d.id ?? name()}; else delete drafts[place];
		} catch { /* not ours */ }
	}
	try { Object.keys(localStorage).forEach(load); } catch { /* none */ }

	const fields = card => [...card.querySelectorAll("[data-field]")];
	const of = card => ({trial: form.trial.value, season: form.season.value, date: form.date.value, time: form.time.value, way: form.way.value, unit: card.dataset.unit, as: card.dataset.way,
		typed: Object.fromEntries(fields(card).map(f => [f.dataset.field, f.value.trim()]).filter(([, x]) => x))});
	const key = card => placeOf(of(card));
	const shown = d => cards.find(c => key(c) === placeOf(d));
	const text = d => Object.values(d.typed).join("; ");
	const inOrder = () => Object.entries(drafts).sort(([, a], [, b]) => a.n - b.n);
	const make = (tag, more, ...inside) => { const e = Object.assign(document.createElement(tag), more); e.append(...inside); return e; };
	const line = d => [make("b", {textContent: d.unit}), ` ${d.trial}, ${d.date}${d.time && " " + d.time}: ${text(d)}`];

	function keep(...places) {
		for (const place of places) try {
			if (drafts[place]) localStorage.setItem(place, JSON.stringify(drafts[place])); else localStorage.removeItem(place);
		} catch { said.textContent = words.unkept; }
		const all = inOrder(), waiting = document.getElementById("waiting");
		if (waiting) waiting.textContent = all.length ? words.waiting.replace("#", all.length) : "";
		// What was refused stays in sight, with its reason, until someone decides it; so does what no card shows.
		shelf.hidden = !all.length;
		const rows = all.filter(([place, d]) => d.refused || d.away || place !== placeOf(d) || !shown(d));
		shelf.classList.toggle("bare", !rows.length);
		document.getElementById("refused").replaceChildren(...rows.map(([place, d]) => make("li", {}, ...line(d),
			make("span", {className: "fault", textContent: d.away ? words.told : d.refused || (d.wanted ? words.held : words.typed)}),
			...d.away ? [] : [make("button", {type: "button", className: "small away", textContent: words.away, onclick: () => away(place)})])));
	}
	// away throws a draft away: what the desk has heard of with a reason, which it is told.
	function away(place) {
		const d = drafts[place], why = d.refused ? prompt(words.why.replace("#", d.unit)) : confirm(words.sure.replace("#", d.unit));
		if (!why) return;
		if (d.refused) drafts[place] = {...d, away: why}; else delete drafts[place];
		keep(place);
		cards.forEach(c => { if (key(c) === place) show(c); });
		if (d.refused) send([place]);
	}
	function mark(card, text, odd = "") {
		card.querySelector(".mark").replaceChildren(make("span", {className: "draft", textContent: text}), " ", make("span", {className: "fault", textContent: odd}));
	}
	function show(card) { // what is typed for the time that the page shows
		const draft = drafts[key(card)];
		for (const f of fields(card)) f.value = draft?.away ? "" : draft?.typed[f.dataset.field] ?? "";
		if (draft) mark(card, draft.wanted ? words.held : words.typed, draft.refused || less(card));
		else if (card.querySelector(".mark .draft")) mark(card, "");
	}
	function less(card) {
		const f = fields(card)[0], last = parseFloat(f.dataset.last);
		return form.date.value >= f.dataset.day && parseFloat(f.value.replace(",", ".")) < last ? words.less.replace("#", f.dataset.last) : "";
	}
	// place puts the answer's marks on the cards that are shown for the same time.
	function place(page, units) {
		const now = page.getElementById("readings");
		if (!form || !now || now.trial.value !== form.trial.value || now.date.value !== form.date.value || now.time.value !== form.time.value) return;
		for (const card of cards) if (!units || units.includes(card.dataset.unit))
			for (const next of now.querySelectorAll(`[data-unit="${CSS.escape(card.dataset.unit)}"] .live[id]`)) document.getElementById(next.id)?.replaceWith(next);
		document.getElementById("sum").replaceWith(page.getElementById("sum"));
	}
	// ask sends one request after the other: an answer never overtakes another.
	const ask = (address, options) => fetch(address, {signal: AbortSignal.timeout(15000), ...options}).then(async r => ({r, page: new DOMParser().parseFromString(await r.text(), "text/html")}));
	// send asks to store drafts of one time together: all of them or none, one change of the workbook.
	function send(places) {
		chain = chain.then(async () => {
			const sent = places.map(place => [place, drafts[place]]).filter(([, d]) => d && (d.wanted || d.refused || d.away));
			if (!sent.length) return;
			const {trial, season, date, time, way} = sent[0][1];
			const body = new URLSearchParams({trial, season, date, time, way, do: "all", waiting: Object.keys(drafts).length});
			sent.forEach(([, d], n) => {
				for (const [f, x] of Object.entries({...d.typed, unit: d.unit, id: d.id, over: d.over, away: d.away})) if (x) body.set(f + "." + n, x);
			});
			const tell = text => { for (const [, d] of sent) if (shown(d)) mark(shown(d), text); said.textContent = text; };
			try {
				const {r, page} = await ask("/trials/read", {method: "POST", body});
				if (r.status === 401) return tell(words.code);
				const stored = r.headers.get("Spile-Stored")?.split(" ");
				if (!stored || r.status >= 500) throw r.status; // it may not even be the workbench that answers
				const told = Object.fromEntries([...page.querySelectorAll("[data-draft]")].map(x => [x.dataset.draft, x]));
				const lead = page.querySelector(".lead .first")?.textContent;
				const names = {true: [], false: []}, same = sent.map(([place, d]) => drafts[place] === d);
				sent.forEach(([place, d], n) => {
					const done = stored.includes(d.id), why = told[d.id]?.textContent ?? (r.status === 404 ? lead : "");
					names[done].push(d.unit);
					if (!same[n]) return;
					if (done) delete drafts[place]; else { d.wanted = false; if (why) d.refused = why; }
				});
				keep(...sent.map(([place]) => place));
				place(page, sent.filter(([, d]) => r.redirected || !stored.includes(d.id)).map(([, d]) => d.unit));
				sent.forEach(([, d], n) => {
					const card = shown(d);
					if (!card) return;
					if (!same[n]) show(card);
					else if (stored.includes(d.id)) { fields(card).forEach(f => { f.value = ""; }); if (!r.redirected) mark(card, told[d.id]?.textContent ?? words.stored.replace("#", d.unit)); }
					else if (!card.querySelector(".mark .fault")) mark(card, words.typed, less(card));
				});
				const list = yes => names[yes].length && words[yes ? "stored" : "refused"].replace("#", names[yes].join(", "));
				said.textContent = [list(true), list(false), ...Object.values(told).filter(x => "done" in x.dataset).map(x => x.textContent)].filter(x => x).join(" ");
			} catch {
				tell(words.held);
				clearTimeout(timer);
				timer = setTimeout(all, 10000);
			}
		});
	}
	// all asks again for what is wanted, as it was asked for, and what became of what was refused.
	function all() {
		const together = {};
		for (const [place, d] of inOrder()) (together[d.refused || d.away ? place : `${d.trial} ${d.asked ?? place}`] ??= []).push(place);
		for (const places of Object.values(together)) send(places);
	}
	function want(list, over = "") {
		const asked = count(), places = [];
		for (const card of list) {
			const d = of(card), place = placeOf(d), before = drafts[place];
			if (!Object.keys(d.typed).length) continue;
			drafts[place] = {...d, over, asked, n: before?.n ?? asked, id: before && text(before) === text(d) && !over ? before.id : name(), wanted: true};
			mark(card, words.sending);
			places.push(place);
		}
		keep(...places);
		send(places);
	}

	form?.addEventListener("input", e => {
		const card = e.target.closest("[data-unit]");
		if (card) {
			const d = of(card), place = placeOf(d);
			if (Object.keys(d.typed).length) drafts[place] = {...d, n: drafts[place]?.n ?? count(), id: name(), wanted: false};
			else delete drafts[place];
			keep(place);
			mark(card, drafts[place] ? words.typed : "", less(card));
		} else if (form.date.value) {
			cards.forEach(c => { mark(c, ""); show(c); });
			keep();
			const address = form.action + "?" + new URLSearchParams({trial: form.trial.value, season: form.season.value, date: form.date.value, time: form.time.value, way: form.way.value});
			if (e.target === form.way) { location.href = address; return; }
			chain = chain.then(() => ask(address)).then(({page}) => { place(page); cards.forEach(show); }, () => { said.textContent = words.held; });
		}
	});
	form?.addEventListener("submit", e => {
		const by = e.submitter, card = by?.closest("[data-unit]");
		if (by?.formMethod === "get" || by?.name === "drop") return;
		e.preventDefault();
		want(card ? [card] : cards, by.name.startsWith("over.") ? by.value : "");
	});
	form?.addEventListener("click", e => {
		const leave = e.target.closest("[data-leave]"), card = leave?.closest("[data-unit]");
		if (!card) return;
		e.preventDefault();
		const place_ = key(card), d = drafts[place_];
		if (d?.refused) { drafts[place_] = {...d, away: leave.textContent}; send([place_]); } else delete drafts[place_];
		keep(place_);
		show(card);
		chain = chain.then(() => ask(leave.href)).then(({page}) => place(page, [card.dataset.unit]), () => {});
	});

	// A file that the desk takes in: the columns of a table of readings.
	document.getElementById("export").onclick = () => {
		const as = JSON.parse(words.columns), amounts = Object.entries(as).filter(([x]) => x !== "vacuum");
		const cell = x => { x = String(x ?? ""); if (/^[=+\-@\t]/.test(x)) x = "'" + x; return /[",\n;]/.test(x) ? `"${x.replaceAll('"', '""')}"` : x; };
		const rows = inOrder().map(([, d]) => [d.trial, d.season, d.unit, `${d.date} ${d.time}`.trim(), ...amounts.map(([x]) => x === (d.way || d.as || "counter") ? (d.typed.least ? "≥ " : "") + (d.typed.amount ?? "") : ""), d.typed.brix, d.typed.vacuum, d.typed.note]);
		const table = [["trial", "season", "unit", "date", ...amounts.map(([, x]) => x), "brix", as.vacuum, "note"], ...rows].map(r => r.map(cell).join(",")).join("\r\n") + "\r\n";
		make("a", {href: URL.createObjectURL(new Blob(["\ufeff", table], {type: "text/csv"})), download: "readings.csv"}).click();
	};
	// What is typed here goes to the workbench's new address in the part of an address that no server is sent. They stay
	// here as well: what is stored twice is the same, and is stored once.
	document.getElementById("hand").onclick = () => {
		const to = document.getElementById("moved").value.trim().replace(/^https?:\/\//, "").replace(/[/#].*$/, "");
		if (/^[\w.:[\]-]+$/.test(to)) location.href = `http://${to}/#` + encodeURIComponent(JSON.stringify({handle: words.handle, from: location.host, drafts: inOrder().map(([, d]) => d)}));
	};
	function come() {
		const hash = location.hash.slice(1), door = document.getElementById("door"), handed = document.getElementById("handed");
		if (door && hash.startsWith("code=")) door.code.value = hash.slice(5);
		let come;
		try { come = JSON.parse(decodeURIComponent(hash)); } catch { return; }
		if (!Array.isArray(come?.drafts)) return;
		history.replaceState(null, "", location.pathname + location.search);
		const list = come.drafts.filter(d => d?.id && d.typed && placed.test(placeOf(d)));
		handed.querySelector("p").textContent = handed.querySelector("p").textContent.replace("#", come.from);
		handed.querySelector("ul").replaceChildren(...list.map(d => make("li", {}, ...line(d))));
		handed.hidden = false;
		const [take, leave] = handed.querySelectorAll("button");
		leave.onclick = () => { handed.hidden = true; };
		take.onclick = () => {
			for (const d of list) {
				let place = placeOf(d);
				if (drafts[place] && text(drafts[place]) !== text(d)) { place += " " + d.id; d.refused ??= words.twice; }
				drafts[place] = {...d, n: count()};
				keep(place);
			}
			handed.hidden = true;
			cards.forEach(show);
			if (door && come.handle) { door.handle.value = come.handle; door.submit(); } else all();
		};
	}

	addEventListener("storage", e => { load(e.key); keep(); });
	addEventListener("online", all);
	addEventListener("hashchange", come);
	document.addEventListener("visibilitychange", () => { if (!document.hidden) all(); });
	document.documentElement.classList.add("js");
	cards.forEach(c => { if (drafts[key(c)]) show(c); });
	keep();
	come();
	if (!document.getElementById("door")) all();
})();
