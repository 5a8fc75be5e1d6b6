// The published page: it hands what a reader types to the engine in its worker and shows what comes back. Without it
// the page stands as it was made.
(() => {
	'use strict';
	const root = document.documentElement;
	const all = (what, from = document) => [...from.querySelectorAll(what)];
	const data = id => document.getElementById(id).textContent.trim();
	// A part is in the page as text, or beside it.
	const part = id => {
		const at = document.getElementById(id).dataset.at;
		return at ? { at: new URL(at, location.href).href } : data(id);
	};
	const kept = 'spile:' + root.dataset.digest;
	root.classList.add('js');

	// Which language: that of the address, of the last visit, of the browser, else the first of the page.
	const tongues = all('main').map(m => m.lang.slice(0, 2));
	const asked = new URLSearchParams(location.hash.slice(1));
	let saved = {};
	try { saved = JSON.parse(localStorage.getItem(kept)) || {}; } catch { /* nothing is kept here */ }
	const from = [asked.get('lang'), location.hash.slice(1), saved.lang, ...(navigator.languages || [])]
		.map(l => (l || '').slice(0, 2)).find(l => tongues.includes(l)) || tongues[0];
	let main, form, units, typed = {};
	all('main form').forEach(f => f.dataset.units = f.elements.units.value);

	// A number that was typed, with a point and no marks between thousands, as the engine reads it; what is none stays
	// as it is.
	const plain = text => {
		let t = text.trim().replace('−', '-');
		if (/^[-+]?[1-9]\d{0,2}([ \u00a0\u202f]\d{3})+([.,]\d+)?$/.test(t)) t = t.replace(/[ \u00a0\u202f]/g, '');
		else if (!main.lang.startsWith('fr') && /^[-+]?[1-9]\d{0,2}(,\d{3})+(\.\d+)?$/.test(t)) t = t.replace(/,/g, '');
		return /^[-+]?(\d+[.,]?\d*|[.,]\d+)$/.test(t) ? t.replace(',', '.') : text;
	};
	const plainly = list => Object.fromEntries(
		Object.entries(list).map(([k, x]) => [k, k.endsWith('name') ? x : plain(x)]));

	// What is typed, by the names of fields; blanks are left out.
	const asks = x => x.name && x.name !== 'units' && x.type !== 'checkbox';
	const values = () => {
		const list = {};
		for (const x of form.elements) if (asks(x) && x.value !== '') list[x.name] = x.value;
		return list;
	};
	// mine is what is typed as it is printed, where no form is.
	const mine = () => {
		const colon = main.lang.startsWith('fr') ? '\u00a0: ' : ': ', parts = [];
		let section;
		for (const x of form.elements) {
			if (!asks(x) || x.value === '') continue;
			const at = x.closest('fieldset[data-section]'), unit = x.closest('.blank').querySelector('.unit');
			const value = x.selectedOptions ? x.selectedOptions[0].text : x.value;
			const part = x.labels[0].textContent + colon + [value, unit && unit.textContent].filter(Boolean).join(' ');
			parts.push(at && at !== section ? at.querySelector('legend').textContent + colon + part : part);
			section = at;
		}
		return parts.length ? main.dataset.mine + ' ' + parts.join('; ') + '.' : '';
	};
	const show = list => {
		const last = Math.min(40, Math.max(...Object.keys(list).map(k => parseInt(k) || 1), 1));
		while (!form.elements[last + '.taps']) more();
		const left = new Set(Object.keys(list));
		for (const x of form.elements) {
			if (!asks(x)) continue;
			x.value = list[x.name] ?? '';
			if (x.value === list[x.name]) left.delete(x.name);
		}
		main.querySelector('[data-left]').textContent = left.size ? main.dataset.left + ' ' + [...left].join(', ') : '';
	};
	// fill shows what was typed, once the form is in the units that it was typed in.
	let awaited;
	const fill = list => {
		typed = awaited = list;
		form.elements.units.value = units;
		if (form.dataset.units === units) {
			awaited = null;
			show(list);
			lock();
		} else reunit();
	};
	// A link and a file hold numbers in the units chosen: none is made of a form that has others still.
	const lock = () => all('[data-do=link],[data-do=file]', main).forEach(b => b.disabled = form.dataset.units !== units);

	// speak shows one language, with what was typed in the other.
	const speak = lang => {
		main = all('main').find(m => m.lang.startsWith(lang));
		all('main').forEach(m => m.hidden = m !== main);
		root.lang = main.lang;
		document.title = main.dataset.title;
		form = main.querySelector('form');
		form.hidden = false;
		units = units || form.dataset.units;
	};

	// more puts one section more into the form.
	const more = () => {
		const first = form.querySelector('[data-section]');
		const n = all('[data-section]', form).length + 1;
		const next = first.cloneNode(true);
		for (const x of all('[id],[name],[for],[aria-describedby]', next)) {
			for (const a of ['id', 'name', 'for', 'aria-describedby']) {
				if (x.hasAttribute(a)) x.setAttribute(a, x.getAttribute(a).replace('1.', n + '.'));
			}
			if ('value' in x && x.tagName !== 'BUTTON') x.value = '';
		}
		next.querySelector('legend').textContent = main.dataset.section.replace('1', n);
		all('[data-section]', form).pop().after(next);
		return next;
	};

	// The engine. A late answer never wins: only that to the latest question is shown.
	let worker, latest = 0, sure = -1, planned = false;
	const status = text => { main.querySelector('[data-status]').textContent = text; };
	const able = window.Worker && window.WebAssembly && window.DecompressionStream && window.Blob;
	// A browser lets no file read another beside it.
	const apart = location.protocol === 'file:' && document.getElementById('engine').dataset.at;
	const unable = () => able ? apart ? main.dataset.apart : '' : main.dataset.old;
	const start = () => {
		if (worker || unable()) return !unable();
		const source = new Blob([data('go'), '\n', data('worker')], { type: 'text/javascript' });
		worker = new Worker(URL.createObjectURL(source));
		worker.onmessage = ({ data }) => hear(data);
		worker.onerror = () => hear({ error: 'worker' });
		worker.postMessage({ engine: part('engine'), evidence: part('evidence') });
		status(main.dataset.opening);
		return true;
	};
	const reunit = () => {
		lock();
		if (start()) worker.postMessage({ id: ++latest, steps: ['form'], lang: main.lang, units, typed: {} });
	};
	const ask = steps => {
		if (!start()) return status(unable());
		if (form.dataset.units !== units) return reunit(); // and once it is, all is asked again
		typed = values();
		keep();
		if (!Object.keys(typed).length && !planned && !steps.includes('file')) {
			latest++;
			main.querySelector('[data-own]').innerHTML = main.querySelector('[data-typed]').textContent = '';
			return status('');
		}
		if (steps.includes('rank')) main.querySelector('[data-own]').classList.add('late');
		status(main.dataset.working);
		worker.postMessage({ id: ++latest, steps, lang: main.lang, units, typed });
	};
	const hear = said => {
		if (said.error) return status(main.dataset.broken + ' ' + said.error);
		if (said.ready) {
			performance.mark('engine');
			// Until something is typed the engine answers for nobody, so that what any answer needs is there by then.
			if (!latest) worker.postMessage({ id: -1, steps: ['rank', 'sure'], lang: main.lang, units, typed: {} });
			return status('');
		}
		if (said.id !== latest) return;
		performance.mark(said.what);
		const x = said.answer;
		if (said.what === 'file') return save(x);
		if (said.what === 'form') return relabel(x);
		told(x);
		if (x.faults) return status(main.dataset.faults);
		const into = main.querySelector(said.what === 'plan' ? '[data-plan]' : '[data-own]');
		if (said.what === 'rank') main.querySelector('[data-typed]').textContent = mine();
		if (said.what === 'sure') sure = latest;
		const before = said.what === 'rank' && into.querySelector('[data-later]');
		into.innerHTML = x.html;
		into.classList.remove('late');
		if (before) {
			before.classList.add('late');
			into.querySelector('[data-later]').replaceWith(before);
		}
		if (said.what === 'plan') main.querySelector('[data-print]').hidden = false;
		status(said.what === 'rank' ? main.dataset.chances : said.what === 'sure' && planned ? main.dataset.planning : '');
	};
	// told puts what is wrong or unusual beside its field.
	const told = ({ faults = {}, asks = {} }) => {
		for (const x of form.elements) {
			const said = x.name && document.getElementById(x.id + '-said');
			if (!said) continue;
			const fault = faults[x.name];
			said.textContent = fault || asks[x.name] || '';
			said.className = fault ? 'fault' : 'mark';
			fault ? x.setAttribute('aria-invalid', 'true') : x.removeAttribute('aria-invalid');
		}
		main.querySelector('[data-faults]').textContent = faults[''] || '';
	};
	// relabel writes the form in other units, and what was typed in them.
	const relabel = groups => {
		const fields = groups.flatMap(g => g.Fields);
		for (const x of form.elements) {
			if (!x.name) continue;
			const n = (x.name.match(/^\d+/) || [''])[0];
			const key = n ? 'section' + x.name.slice(n.length) : x.name;
			const f = fields.find(f => f.Name === key || f.Name.replace(/_(inhg|kpa)$/, '') === key.replace(/_(inhg|kpa)$/, ''));
			if (!f || !f.Per) continue;
			const was = +x.dataset.per, now = plain(x.value);
			if (was !== f.Per && now !== '' && !isNaN(now)) {
				x.value = String(+(now * f.Per / was).toPrecision(5)).replace('.', main.lang.startsWith('fr') ? ',' : '.');
			}
			x.dataset.per = f.Per;
			x.placeholder = f.Usual;
			if (n) x.name = n + f.Name.slice('section'.length);
			else x.name = f.Name;
			x.closest('.blank').querySelector('.unit').textContent = f.Unit;
		}
		form.dataset.units = units;
		lock();
		if (awaited) fill({ ...awaited, ...values() });
		typed = values();
		go();
	};
	const save = text => {
		const a = document.createElement('a');
		a.href = URL.createObjectURL(new Blob([text], { type: 'application/toml' }));
		a.download = 'sugarbush.toml';
		a.click();
		status('');
	};
	const keep = () => {
		try {
			if (form.elements.keep.checked) localStorage.setItem(kept, JSON.stringify({ lang: main.lang.slice(0, 2), units, typed }));
			else localStorage.removeItem(kept);
		} catch { // a browser that keeps nothing, or no more
			form.elements.keep.checked = false;
		}
	};
	const go = () => ask(planned ? ['rank', 'sure', 'plan'] : ['rank', 'sure']);

	let soon;
	document.addEventListener('input', e => {
		if (!form || !form.contains(e.target)) return;
		clearTimeout(soon);
		if (e.target.name === 'units') {
			units = e.target.value;
			return reunit();
		}
		soon = setTimeout(go, e.target.tagName === 'SELECT' ? 0 : 60);
	});
	document.addEventListener('submit', e => e.preventDefault());
	document.addEventListener('click', e => {
		const b = e.target.closest('[data-do],[data-tongue]');
		if (!b) return;
		if (b.dataset.tongue) {
			e.preventDefault();
			const was = form.dataset.units, next = all('main').find(m => m.lang.startsWith(b.dataset.tongue));
			// What is typed in units that have been left is shown only where the other form has them still.
			if (was !== units && next.querySelector('form').dataset.units !== was) return setTimeout(() => b.click(), 100);
			const own = plainly(values()), due = plainly(awaited || {});
			speak(b.dataset.tongue);
			if (was === units) fill(own);
			else {
				show(own);
				fill(due);
			}
			if (Object.keys(typed).length) go();
			return;
		}
		switch (b.dataset.do) {
		case 'plan':
			planned = true;
			sure === latest ? ask(['plan']) : go();
			break;
		case 'section':
			more().querySelector('input').focus();
			break;
		case 'file':
			ask(['file']);
			break;
		case 'clear':
			form.reset();
			awaited = null;
			form.elements.units.value = units;
			main.querySelector('[data-left]').textContent = '';
			planned = false;
			main.querySelector('[data-plan]').innerHTML = '';
			main.querySelector('[data-print]').hidden = true;
			go();
			break;
		case 'print':
			document.body.classList.add('handout-page');
			print();
			document.body.classList.remove('handout-page');
			break;
		case 'link': {
			const to = new URLSearchParams({ ...values(), lang: main.lang.slice(0, 2), units });
			const box = main.querySelector('[data-link]');
			box.hidden = false;
			box.value = location.href.split('#')[0] + '#' + to;
			box.select();
			break;
		}
		}
	});

	speak(from);
	const given = Object.fromEntries([...asked].filter(([k]) => k !== 'lang' && k !== 'units' && !tongues.includes(k)));
	typed = Object.keys(given).length ? given : saved.typed || {};
	if (saved.typed) all('[name=keep]').forEach(x => x.checked = true);
	units = [asked.get('units'), saved.units].find(u => [...form.elements.units.options].some(o => o.value === u)) || units;
	// Rules of permission that have lapsed by the phone's own day.
	const today = new Date().toISOString().slice(0, 10);
	all('[data-lapses]').forEach(x => x.hidden = !(today >= x.dataset.lapses));
	addEventListener('hashchange', () => location.hash.includes('=') && location.reload()); // another link in this tab
	if (unable()) {
		show(typed);
		return status(unable());
	}
	if (form.dataset.units === units) show(typed);
	else {
		awaited = typed;
		lock();
	}
	// The engine is opened once the page is painted, so that the first number typed finds it ready.
	requestAnimationFrame(() => setTimeout(() => {
		start();
		if (form.dataset.units !== units) fill(awaited);
		else if (Object.keys(typed).length) go();
	}));
})();
