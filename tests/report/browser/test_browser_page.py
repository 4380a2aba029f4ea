"""The page in a real Chromium: quiet, opened by keyboard, heard, read by rules of accessibility, printed without a cut row."""

import io
from datetime import date

import pytest
from pypdf import PdfReader

from toneprobe.book.entries import StoredCondition

WCAG = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
PAPERS_IN = {"A4": (8.27, 11.69), "letter": (8.5, 11.0)}  # ISO 216 and ANSI A, common practice
ENTER, TAB, SPACE = ("Enter", 13, "\r"), ("Tab", 9, ""), (" ", 32, " ")


def press(chromium, key):
    chromium.press(key[0], code=key[1], text=key[2])


def focus_words(chromium):
    return chromium.run("(document.activeElement.textContent || '').trim().replace(/\\s+/g, ' ')")


def test_opens_without_complaint_and_asks_for_nothing(chromium, page_file):
    chromium.open(page_file)
    chromium.run("document.querySelectorAll('.string > details').forEach(row => { row.open = true; })")
    assert chromium.complaints() == []
    assert [url for url in chromium.requests() if not url.startswith(("data:", "blob:"))] == [page_file.as_uri()]


def test_a_name_cannot_run_or_fetch(chromium, tmp_path, hostile_view):
    from toneprobe.report.page import sweep_page, write_page

    write_page(sweep_page(hostile_view), tmp_path / "hostile.html")
    chromium.open(tmp_path / "hostile.html")
    assert chromium.run("window.bitten === undefined")
    assert "<script>" in chromium.run("document.querySelector('.harp').textContent")
    assert chromium.complaints() == []
    assert chromium.requests() == [(tmp_path / "hostile.html").as_uri()]


def test_long_names_do_not_stick_out(chromium, tmp_path, hostile_view):
    from toneprobe.report.page import sweep_page, write_page

    write_page(sweep_page(hostile_view), tmp_path / "hostile.html")
    chromium.open(tmp_path / "hostile.html", width=360)
    chromium.run("document.querySelectorAll('details').forEach(row => { row.open = true; })")
    assert chromium.run("document.documentElement.scrollWidth") <= 360


def test_policy_refuses_foreign_requests_and_scripts(chromium, page_file):
    """Shows that the two tests above can fail: the page's own policy is what stops these."""
    chromium.open(page_file)
    chromium.run("""(() => { const bad = document.createElement('script'); bad.textContent = 'window.bitten = 1'; document.body.append(bad);
                     const far = new Image(); far.src = 'http://127.0.0.1:9/x.png'; document.body.append(far); })()""")
    assert chromium.run("window.bitten === undefined")
    assert len(chromium.complaints()) >= 2


def test_every_row_opens_by_keyboard(chromium, page_file):
    chromium.open(page_file)
    n_rows = chromium.run("document.querySelectorAll('.string > details').length")
    assert n_rows == 47
    chromium.run("document.querySelector('button[data-open=none]').focus()")
    for place in range(n_rows):
        press(chromium, TAB)
        row = f"document.querySelectorAll('.string > details')[{place}]"
        assert chromium.run(f"document.activeElement === {row}.querySelector('summary')"), focus_words(chromium)
        press(chromium, ENTER if place % 2 else SPACE)
        assert chromium.run(f"{row}.open"), place
        press(chromium, ENTER)
        assert not chromium.run(f"{row}.open"), place


def test_link_from_the_list_opens_its_row(chromium, page_file):
    chromium.open(page_file)
    chromium.run("document.querySelector('.attention a').focus()")
    press(chromium, ENTER)
    chromium.run("new Promise(done => setTimeout(done, 200))")
    assert chromium.run("document.activeElement.closest('details').open")
    assert focus_words(chromium).startswith("2C")


def test_focus_is_seen(chromium, page_file):
    chromium.open(page_file)
    press(chromium, TAB)
    assert focus_words(chromium) == "Skip to the report"
    assert chromium.run("getComputedStyle(document.activeElement).outlineStyle") == "solid"
    assert chromium.run("document.activeElement.getBoundingClientRect().left") >= 0


@pytest.mark.parametrize("which", ["fresh", "now"])
def test_sound_plays(chromium, page_file, which):
    chromium.open(page_file)
    chromium.run("document.querySelectorAll('.string > details')[20].open = true")
    group = "document.querySelectorAll('.string > details')[20].querySelector('.listen')"
    chromium.run(f"{group}.querySelector('button[data-play={which}]').focus()")
    press(chromium, ENTER)
    passed = chromium.run(f"""new Promise(done => {{ const audio = {group}.querySelector('audio[data-sound={which}]');
        const started = Date.now(); const look = setInterval(() => {{ if (audio.currentTime > 0.3 || Date.now() - started > 8000) {{
        clearInterval(look); done([audio.currentTime, audio.duration, audio.error && audio.error.message]); }} }}, 20); }})""")
    assert passed[2] is None
    assert 0.3 < passed[0] <= passed[1]
    assert focus_words(chromium) == "Stop"
    press(chromium, ENTER)
    assert chromium.run(f"{group}.querySelector('audio[data-sound={which}]').paused")
    assert focus_words(chromium) == f"Play {which}"
    assert chromium.complaints() == []


def test_turns_play_fresh_then_now(chromium, page_file):
    chromium.open(page_file)
    row = "document.querySelectorAll('.string > details')[2]"
    chromium.run(f"{row}.open = true")
    order = chromium.run(f"""new Promise(done => {{ const heard = []; const group = {row}.querySelector('.listen');
        group.querySelectorAll('audio').forEach(audio => audio.addEventListener('playing', () => {{ heard.push(audio.dataset.sound);
          if (heard.length === 3) {{ done(heard); }} }}));
        setTimeout(() => done(heard), 12000); group.querySelector('button[data-play=turns]').click(); }})""")
    assert order == ["fresh", "now", "fresh"]


def test_sound_can_be_played_without_script(chromium, page_file):
    chromium.call("Emulation.setScriptExecutionDisabled", value=True)
    try:
        chromium.open(page_file)
        assert chromium.run("document.querySelectorAll('audio[controls]').length") == 92
        assert chromium.run("getComputedStyle(document.querySelector('.listen .plain')).display") == "flex"
        assert chromium.run("getComputedStyle(document.querySelector('.with-script')).display") == "none"
    finally:
        chromium.call("Emulation.setScriptExecutionDisabled", value=False)


@pytest.mark.parametrize(("width", "is_dark"), [(360, True), (1440, False)], ids=["phone, dark", "desk, light"])
def test_axe_finds_nothing(chromium, small_page_file, axe, width, is_dark):
    chromium.open(small_page_file, width=width, is_dark=is_dark)
    assert axe_findings(chromium, axe, n_open=8) == []


def test_axe_finds_nothing_on_the_other_pages(chromium, axe, other_pages):
    found = {}
    for path in other_pages:
        chromium.open(path, width=768)
        assert chromium.complaints() == []
        assert chromium.run("document.documentElement.scrollWidth") <= 768
        found[path.stem] = axe_findings(chromium, axe)
    assert found == dict.fromkeys(("compare", "life", "season", "technician", "index"), [])


def test_axe_can_find(chromium, small_page_file, axe):
    chromium.open(small_page_file)
    chromium.run("document.querySelector('.subline').style.color = '#999'; document.querySelector('h2').remove(); undefined")
    assert "color-contrast" in [one[0] for one in axe_findings(chromium, axe)]


@pytest.mark.parametrize("width", [360, 1440])
def test_nothing_sticks_out(chromium, page_file, width):
    chromium.open(page_file, width=width)
    chromium.run("document.querySelectorAll('details').forEach(row => { row.open = true; })")
    assert chromium.run("document.documentElement.scrollWidth") <= width


@pytest.mark.parametrize("width", [320, 705, 1057])
def test_letters_are_large_enough_at_every_width(chromium, page_file, other_pages, width):
    """12 px at least, in pictures as they are shown; set here."""
    for path in (page_file, *other_pages):
        chromium.open(path, width=width)
        chromium.run("document.querySelectorAll('details').forEach(row => { row.open = true; })")
        small = chromium.run("""[...document.querySelectorAll('body *')].filter(it => it.getBoundingClientRect().width > 1)
            .filter(it => [...it.childNodes].some(node => node.nodeType === 3 && node.textContent.trim()))
            .map(it => { const matrix = it.closest('svg') ? it.getScreenCTM() : null;
              return [parseFloat(getComputedStyle(it).fontSize) * (matrix ? Math.hypot(matrix.a, matrix.b) : 1), it.textContent.trim()]; })
            .filter(it => it[0] < 11.99).slice(0, 3)""")
        assert small == [], path.stem


@pytest.mark.parametrize(("width", "height"), [(1280, 800), (390, 844)])
def test_the_first_screen_shows_the_harp(chromium, page_file, width, height):
    """All of it, below the sentence, as far as heads and marks go."""
    chromium.open(page_file, width=width, height=height)
    box = chromium.run("""(() => { const shown = [...document.querySelectorAll('.harp-picture svg')].filter(it =>
        it.getBoundingClientRect().width)[0].getBoundingClientRect(); return [shown.top, shown.bottom]; })()""")
    assert chromium.run("document.querySelector('h1').getBoundingClientRect().bottom") <= box[0]
    assert box[1] <= height


@pytest.mark.parametrize("width", [360, 1440])
def test_no_reason_is_hidden_or_cut(chromium, page_file, width):
    """The row's reason and what each figure is, as wide as they are, on a phone too; no word is broken in its midst there."""
    chromium.open(page_file, width=width)
    chromium.run("document.querySelectorAll('.string > details')[2].open = true")
    cut = chromium.run("""(() => {
      const shown = [...document.querySelectorAll('.brief-reason')].filter(it => !it.closest('details').open);
      shown.push(...document.querySelectorAll('.string > details[open] .figures :is(small, td)'));
      return shown.filter(it => it.textContent.trim()).filter(it => { const box = it.getBoundingClientRect();
        return box.height === 0 || box.right > innerWidth || it.scrollWidth > it.clientWidth + 1; })
        .map(it => it.textContent.trim()); })()""")
    assert cut == []
    told = chromium.run("""(() => { const cell = document.querySelector('.string > details[open] .figures td:last-child');
        const range = document.createRange(); range.selectNodeContents(cell);
        return [cell.innerText.includes('±'), getComputedStyle(cell, '::before').content, range.getClientRects().length]; })()""")
    assert told == [True, '"Change "' if width == 360 else "none", 1]  # in one line, and named where no heading names it
    plain = "[...document.querySelectorAll('.figures, .figures :is(tr, th, td)')].filter(it => !it.role).length"
    assert chromium.run(plain) == 0  # laid out as blocks, a table is still told as one
    assert chromium.run("[...document.querySelectorAll('.brief-reason')].filter(it => it.textContent.trim()).length") >= 8


@pytest.mark.parametrize("width", [360, 1440])
def test_targets_are_large_enough(chromium, page_file, other_pages, width):
    """WCAG 2.2, 2.5.8: 24 by 24 CSS pixels at least; a link in the midst of a sentence is excepted there."""
    for path in (page_file, *other_pages):
        chromium.open(path, width=width)
        small = chromium.run("""[...document.querySelectorAll('a, button, summary')].filter(it => it.offsetParent !== null)
            .filter(it => !it.matches('.skip, figcaption a'))
            .filter(it => { const box = it.getBoundingClientRect(); return box.height < 24 || box.width < 24; })
            .map(it => it.textContent.trim())""")
        assert small == [], path.stem


def test_still_when_less_motion_is_asked_for(chromium, page_file):
    chromium.open(page_file)  # opened with prefers-reduced-motion
    assert chromium.run("getComputedStyle(document.documentElement).scrollBehavior") == "auto"
    assert chromium.run("document.getAnimations().length") == 0


def test_the_technician_gets_one_sheet(chromium, other_pages):
    chromium.open(next(path for path in other_pages if path.stem == "technician"))
    for width_in, height_in in PAPERS_IN.values():
        assert len(pages_of(chromium.pdf(width_in=width_in, height_in=height_in))) == 1


@pytest.mark.parametrize(("paper", "n_open"), [("letter", 0), ("A4", 8)])
def test_print_cuts_no_row(chromium, small_page_file, paper, n_open):
    chromium.open(small_page_file)
    assert cut_rows(chromium, paper, n_open) == []


def test_print_of_the_whole_harp_cuts_no_row(chromium, page_file):
    chromium.open(page_file)
    assert cut_rows(chromium, "A4", 0) == []


def test_print_of_the_other_pages_cuts_no_row(chromium, other_pages):
    for path in other_pages:
        chromium.open(path)
        if chromium.run("document.querySelectorAll('.row').length"):
            assert cut_rows(chromium, "letter", 0, least=0) == [], path.stem


def test_print_has_no_words_that_only_lead_elsewhere(chromium, page_file):
    """A link's words are no sentence on paper; as a heading they stand there once."""
    chromium.open(page_file)
    text = " ".join(pages_of(chromium.pdf(width_in=8.27, height_in=11.69))).replace("\n", " ")
    assert "F strings blue." in text
    assert text.count("What the words mean") == 1


def test_print_keeps_an_octave_and_its_heading_on_one_sheet(chromium, page_file):
    chromium.open(page_file)
    assert torn(chromium, "letter", ".octave") == []


@pytest.mark.parametrize(("name", "table", "paper"), [("season", ".octaves", "letter"), ("life", ".figures", "A4")])
def test_print_leaves_no_row_of_a_short_table_alone(chromium, other_pages, name, table, paper):
    """Wherever on the sheet it would begin, every 2 cm: with rows of 5 mm one of these places cuts it anywhere."""
    chromium.open(next(path for path in other_pages if path.stem == name))
    chromium.run(f"document.querySelector('{table}').closest('.wide, .figures').insertAdjacentHTML('beforebegin', '<div id=above></div>')")
    chromium.run("document.querySelector('style').textContent += 'svg { display: none !important; }'")  # what takes long to print
    n = mark_parts(chromium, table)
    for above_cm in range(0, 26, 2):
        chromium.run(f"document.querySelector('#above').style.height = '{above_cm}cm'")
        assert torn_parts(chromium, paper, n) == [], above_cm


def test_pictures_of_the_whole_harp_are_large_enough_on_paper(chromium, page_file, view, tmp_path):
    """A4 without its edges of 12 mm is 186 mm wide. Letters of 7.5 pt are read at arm's length (set here); 47 rows on one sheet."""
    from toneprobe.report.page import season_page, write_page
    from toneprobe.report.season import season_view

    history = [StoredCondition(place, point.date, 1, one.condition) for one in view.strings for place, point in enumerate(one.history)]
    span = (date(2024, 1, 1), date(2025, 12, 31))
    write_page(season_page(season_view("Wren", view.instrument, history, span=span)), tmp_path / "season.html")
    wide_px = round(186 / 25.4 * 96)
    chromium.open(tmp_path / "season.html", width=wide_px)
    chromium.call("Emulation.setEmulatedMedia", media="print")
    letters = chromium.run("""[...document.querySelectorAll('.season-picture .for-wide text')].map(it => {
        const matrix = it.getScreenCTM(); return parseFloat(getComputedStyle(it).fontSize) * Math.hypot(matrix.a, matrix.b); })""")
    assert len(letters) >= 47 and min(letters) * 0.75 >= 7.5  # pt in a px of CSS
    chromium.open(page_file, width=wide_px)
    chromium.call("Emulation.setEmulatedMedia", media="print")
    lanes = chromium.run("document.querySelector('.lanes .for-middle svg').getBoundingClientRect().width")
    assert lanes > 0.95 * wide_px


def test_tables_of_a_season_fit_a_phone(chromium, other_pages):
    chromium.open(next(path for path in other_pages if path.stem == "season"), width=360)
    box = "document.querySelector('.octaves').parentElement"
    assert chromium.run(f"{box}.scrollWidth <= {box}.clientWidth")


@pytest.mark.parametrize("width", [360, 390])
def test_the_newest_sweep_of_a_season_is_seen_on_a_phone(chromium, other_pages, width):
    chromium.open(next(path for path in other_pages if path.stem == "season"), width=width)
    ends = chromium.run("[...document.querySelectorAll('.season-picture svg')].map(one => one.getBoundingClientRect()).filter("
                        "box => box.width).map(box => box.right)")
    assert len(ends) == 1 and ends[0] <= width
    gap = chromium.run("""(() => { const words = [...document.querySelectorAll('.octaves thead th')].map(cell => {
        const range = document.createRange(); range.selectNodeContents(cell); return range.getBoundingClientRect(); });
        return Math.min(...words.slice(1).map((box, k) => box.left - words[k].right)); })()""")
    assert gap >= 8, gap  # half a letter's height at least, and headings are read apart


@pytest.mark.parametrize("width", [320, 360])
def test_no_column_of_a_comparison_is_out_of_sight_on_a_phone(chromium, other_pages, width):
    """No cell ends beyond the screen, and each figure is named where the heading of its column is not shown."""
    page = next(path for path in other_pages if path.stem == "compare")
    chromium.open(page, width=width, height=800)
    assert chromium.run("document.querySelector('.wide').scrollWidth <= document.querySelector('.wide').clientWidth")
    assert chromium.run("Math.max(...[...document.querySelectorAll('.compare td')].map(one => one.getBoundingClientRect().right))") <= width
    row = chromium.run("document.querySelector('.compare tbody tr').innerText")
    assert all(word in row for word in ("Ring ", "Brightness ", "Pitch, cents "))
    assert chromium.run("[...document.querySelectorAll('.compare, .compare :is(tr, th, td)')].filter(it => !it.role).length") == 0
    chromium.open(page, width=1000, height=800)
    assert "Ring " not in chromium.run("document.querySelector('.compare tbody tr').innerText")  # its heading says it there


def test_no_other_page_scrolls_sideways_on_a_narrow_phone(chromium, other_pages):
    """305 pixels are what a screen of 320 leaves beside a scroll bar."""
    for path in other_pages:
        chromium.open(path, width=305, height=800)
        assert chromium.run("document.documentElement.scrollWidth") <= 305, path.stem


def test_print_test_can_fail(chromium, small_page_file):
    chromium.open(small_page_file)
    chromium.run("document.querySelector('style').textContent += '@media print { .row { break-inside: auto !important; } }'")
    assert cut_rows(chromium, "A4", 8) != []


def axe_findings(chromium, axe, *, n_open=0):
    """What axe-core objects to, with its first places."""
    chromium.run(f"[...document.querySelectorAll('.string > details')].slice(0, {n_open}).forEach(row => {{ row.open = true; }})")
    chromium.run(f"{axe}; undefined")
    return chromium.run(f"""axe.run(document, {{ runOnly: {WCAG}, resultTypes: ['violations'] }}).then(result => result.violations.map(
        it => [it.id, it.help, it.nodes.length, it.nodes.slice(0, 3).map(node => node.html.slice(0, 160) + ' ' + node.failureSummary)]))""")


def mark_ends(chromium, n_open):
    """Give every row a word at its first and one at its last corner, which take no room; returns how many rows there are."""
    return chromium.run(f"""(() => {{
      [...document.querySelectorAll('.string > details')].slice(0, {n_open}).forEach(row => {{ row.open = true; }});
      const rows = [...document.querySelectorAll('.row, .harp-picture, .cautions')];
      rows.forEach((row, number) => {{ row.style.position = 'relative';
        for (const [word, edge] of [['QB', 'top:0'], ['QE', 'bottom:0']]) {{
          const corner = document.createElement('span'); corner.textContent = word + number + 'Q';
          corner.setAttribute('style', 'position:absolute;right:0;font:6px monospace;' + edge); row.append(corner); }} }});
      return rows.length; }})()""")


def cut_rows(chromium, paper, n_open, *, least=22):
    """The rows whose first and last corner lie on different sheets, or on none: (number, first, last)."""
    n_rows = mark_ends(chromium, n_open)
    width_in, height_in = PAPERS_IN[paper]
    pages = pages_of(chromium.pdf(width_in=width_in, height_in=height_in))
    found = [(number, page_of(pages, f"QB{number}Q"), page_of(pages, f"QE{number}Q")) for number in range(n_rows)]
    assert n_rows > least
    return [one for one in found if one[1] is None or one[1] != one[2]]


def torn(chromium, paper, selector):
    """The parts, or of tables the first and the last row, that lie on two sheets, the same way; there is at least one."""
    return torn_parts(chromium, paper, mark_parts(chromium, selector))


def mark_parts(chromium, selector):
    """As `mark_ends` the parts, or of tables the first and the last row."""
    n = chromium.run(f"""(() => {{ const parts = [...document.querySelectorAll('{selector}')];
      parts.forEach((part, number) => {{
        const ends = part.rows ? [part.rows[0].cells[0], part.rows[part.rows.length - 1].cells[0]] : [part, part];
        for (const [word, edge, end] of [['QB', 'top:0', ends[0]], ['QE', 'bottom:0', ends[1]]]) {{
          const corner = document.createElement('span'); corner.textContent = word + number + 'Q'; end.style.position = 'relative';
          corner.setAttribute('style', 'position:absolute;right:0;font:6px monospace;' + edge); end.append(corner); }} }});
      return parts.length; }})()""")
    assert n
    return n


def torn_parts(chromium, paper, n):
    width_in, height_in = PAPERS_IN[paper]
    pages = pages_of(chromium.pdf(width_in=width_in, height_in=height_in))
    found = [(number, page_of(pages, f"QB{number}Q"), page_of(pages, f"QE{number}Q")) for number in range(n)]
    return [one for one in found if one[1] is None or one[1] != one[2]]


def pages_of(pdf):
    return [page.extract_text() for page in PdfReader(io.BytesIO(pdf)).pages]


def page_of(pages, word):
    return next((number for number, text in enumerate(pages) if word in text), None)
