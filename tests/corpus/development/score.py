#!/usr/bin/env python3
"""python3 score.py DIR BINARY [-v]   scores `BINARY read --json FILE` against FILE.truth.json."""
import sys, os, json, subprocess, re, signal
signal.signal(signal.SIGPIPE, signal.SIG_DFL)
TOL = 0.006
args = [a for a in sys.argv[1:] if not a.startswith("-")]
V = "-v" in sys.argv
if len(args) < 2: sys.exit(__doc__)
DIR, BIN = args[0], os.path.abspath(args[1]) if os.path.exists(args[1]) else args[1]
ONLY = args[2:]
C = {}
def n(k, d=1): C[k] = C.get(k, 0) + d
def say(f, *a):
    if V: print(f + ": " + " ".join(str(x) for x in a))
def num(x): return isinstance(x, (int, float)) and not isinstance(x, bool)
def near(a, b):
    if a is None or b is None: return a is None and b is None
    if not (num(a) and num(b)): return False
    return abs(a - b) <= TOL * max(abs(a), abs(b)) + 1e-12
def L(x): return x if isinstance(x, list) else []
def D(x): return x if isinstance(x, dict) else {}
def norm(s):
    return re.sub(r"[^\w]+", " ", str(s).lower()).strip() if s is not None else None
def names(doubt, prop):
    p = D(doubt).get("property")
    if not isinstance(p, str): return False
    return p == prop or re.split(r"[.\s/\[]", p)[0] == prop
def codes(ds): return [str(D(d).get("code")) + (":" + str(D(d).get("property")) if D(d).get("property") else "") for d in ds]
def mdoubts(g, rec, filed, prop):
    own = L(g.get("doubts"))
    return own + [d for d in L(rec.get("doubts")) + filed if names(d, prop)]
def show(g): return "%s/%s/%s %s %s%s %s (%s | %s) form=%s" % (g.get("property") or g.get("quantity"), g.get("basis"), g.get("qualifier"), g.get("value"), "" if g.get("high") is None else "..", "" if g.get("high") is None else g.get("high"), g.get("unit"), str(g.get("label"))[:40], str(g.get("as_written"))[:40], g.get("form"))
def val_ok(t, g):
    if near(t.get("value"), g.get("value")):
        return ("high" not in t) or near(t["high"], g.get("high"))
    return any(near(a, g.get("value")) for a in t.get("accept", []))
def exact(t, g, strict=True):
    if g.get("property") not in [t.get("property")] + t.get("alt_properties", []): return False
    if "basis" in t and t["basis"] != g.get("basis"):
        if not (t.get("must_doubt") and t.get("basis") is None): return False
    if "form" in t and t["form"] is not None and g.get("form") not in (t["form"],): return False
    if strict and not (t.get("must_doubt") and t.get("value") is None) and t.get("qualifier", "=") != g.get("qualifier"): return False
    if t.get("must_doubt") and g.get("value") is None: return True
    return val_ok(t, g) and (t.get("unit") == g.get("unit") or t.get("must_doubt"))
def agree(ts, rec):
    gm = L(rec.get("measurements")); s = 0.0
    for t in ts.get("measurements", []):
        if any(exact(t, D(g), False) for g in gm): s += 2
        elif any(t["property"] == D(g).get("property") and val_ok(t, D(g)) for g in gm): s += 1
    for k in ("sample_id", "vessel", "position", "sampled_on", "report_number"):
        a, b = ts["sample"].get(k), D(rec.get("sample")).get(k)
        if isinstance(a, list): a = a[0]
        if a is not None and norm(a) == norm(b): s += 1.5
    return s
def pair(truths, recs):
    sc = sorted(((agree(t, r), -i, -j) for i, t in enumerate(truths) for j, r in enumerate(recs)), reverse=True)
    p, ut, ur = {}, set(), set()
    for s, i, j in sc:
        i, j = -i, -j
        if i in ut or j in ur or s <= 0: continue
        p[i] = j; ut.add(i); ur.add(j)
    return p, ur
files = sorted(f[:-11] for f in os.listdir(DIR) if f.endswith(".truth.json"))
if ONLY: files = [f for f in files if any(o in f for o in ONLY)]
perfile = []
for f in files:
    truth = json.load(open(os.path.join(DIR, f + ".truth.json")))
    n("files"); before = dict(C)
    try:
        r = subprocess.run([BIN, "read", "--json", os.path.join(DIR, f)], capture_output=True, timeout=60)
        out, rc = r.stdout.decode("utf-8", "replace"), r.returncode
        err = r.stderr.decode("utf-8", "replace")
    except Exception as e:
        out, rc, err = "", -999, str(e)
    if rc < 0 or rc == 101 or "panicked" in err:
        n("crashes"); say(f, "CRASH rc", rc, err.strip()[:200])
    try: doc = D(json.loads(out))
    except Exception:
        doc = {}
        n("no json"); say(f, "NO JSON rc", rc, err.strip()[:200])
    recs = [D(x) for x in L(doc.get("records"))]
    filed = [d for fl in L(doc.get("files")) for d in L(D(fl).get("doubts"))]
    for e in L(doc.get("errors")): say(f, "ERROR", json.dumps(e)[:200])
    if "error" in truth:
        n("refusals wanted")
        if recs or not L(doc.get("errors")): n("refusals not given"); say(f, "REFUSAL LACKS", [D(e).get("code") for e in L(doc.get("errors"))], len(recs))
        continue
    ts = truth["samples"]
    p, used = pair(ts, recs)
    if len(recs) != len(ts): n("files with wrong number of records"); say(f, "RECORDS expected", len(ts), "got", len(recs))
    for i, t in enumerate(ts):
        rec = recs[p[i]] if i in p else {}
        tag = str(t["sample"].get("sample_id") or t["sample"].get("position") or t["sample"].get("vessel") or "#%d" % (i + 1))
        if i not in p: n("samples not found"); say(f, "SAMPLE NOT FOUND", tag)
        gm = [D(g) for g in L(rec.get("measurements"))]
        left = list(range(len(gm))); todo = []
        tms = t.get("measurements", [])
        for tm in tms:                                        # exact ones first
            hit = next((j for j in left if exact(tm, gm[j])), None)
            if hit is None: todo.append(tm); continue
            left.remove(hit); g = gm[hit]
            ds = mdoubts(g, rec, filed, g.get("property"))
            if tm.get("optional"):
                n("optional read"); continue
            n("values"); n("right")
            if tm.get("must_doubt"):
                n("must-doubt")
                if not ds: n("must-doubt not doubted"); say(f, "NOT DOUBTED", tag, show(g))
            elif ds and not tm.get("may_doubt"):
                n("doubted needlessly"); say(f, "NEEDLESS", tag, show(g), "doubts", codes(ds))
        for tm in todo:
            if tm.get("optional"): continue
            n("values")
            if tm.get("must_doubt"): n("must-doubt")
            cand = [j for j in left if gm[j].get("property") == tm["property"]]
            cand.sort(key=lambda j: (not val_ok(tm, gm[j]), gm[j].get("basis") != tm.get("basis")))
            # a figure that another truth entry still waits for is not taken
            cand = [j for j in cand if not any(o is not tm and o.get("optional") and exact(o, gm[j]) for o in tms)]
            exp = "expected %s/%s %s %s%s" % (tm["property"], tm.get("basis"), tm.get("qualifier"), tm.get("value"), "" if "high" not in tm else "..%s" % tm["high"])
            if cand:
                g = gm[cand[0]]; left.remove(cand[0])
                ds = mdoubts(g, rec, filed, tm["property"])
                if ds:
                    n("wrong with a doubt"); say(f, "WRONG+DOUBT", tag, exp, "got", show(g), "doubts", codes(ds))
                else:
                    n("silent wrong"); say(f, "SILENT WRONG", tag, exp, "got", show(g))
                    if tm.get("must_doubt"): n("must-doubt not doubted")
            else:
                dd = [d for d in L(rec.get("doubts")) + filed if names(d, tm["property"])]
                if tm.get("must_doubt") and dd: n("must-doubt left out with a doubt"); say(f, "LEFT OUT (ok)", tag, exp, codes(dd))
                else:
                    n("missed")
                    say(f, "MISSED" + (" (doubt stands on the record)" if dd else ""), tag, exp, codes(dd))
        for j in left:
            g = gm[j]
            if any(o.get("optional") and o["property"] == g.get("property") for o in tms): continue
            ds = mdoubts(g, rec, filed, g.get("property"))
            dup = any(o["property"] == g.get("property") and val_ok(o, g) for o in tms)
            if dup and not ds: n("duplicates (undoubted)"); say(f, "DUPLICATE", tag, show(g))
            elif ds: n("invented, doubted"); say(f, "INVENTED+DOUBT", tag, show(g), codes(ds))
            else: n("silent wrong"); n("of which invented"); say(f, "SILENT INVENTED", tag, show(g))
        # sample keys
        gs = D(rec.get("sample"))
        if i in p:
            for k, v in t["sample"].items():
                n("keys"); n("keys " + k)
                got = gs.get(k)
                if norm(got) not in [norm(x) for x in (v if isinstance(v, list) else [v])]:
                    kd = [d for d in L(rec.get("doubts")) + filed if names(d, k)]
                    kind = "missed" if got is None else ("wrong, doubted" if kd else "wrong")
                    n("keys " + kind); n("keys " + k + " " + kind)
                    say(f, "KEY " + kind.upper(), tag, k, "expected", repr(v), "got", repr(got), codes(kd))
        # field
        gf = [D(g) for g in L(rec.get("field"))]; lf = list(range(len(gf)))
        for tf in t.get("field", []):
            h = next((j for j in lf if gf[j].get("quantity") == tf["quantity"] and near(gf[j].get("value"), tf["value"]) and ("high" not in tf or near(gf[j].get("high"), tf["high"]))), None)
            if h is not None:
                lf.remove(h)
                if tf.get("optional"): continue
                n("field"); n("field right")
                ds = mdoubts(gf[h], rec, filed, tf["quantity"])
                if ds and not (tf.get("must_doubt") or tf.get("may_doubt")): n("field doubted needlessly"); say(f, "FIELD NEEDLESS", tag, show(gf[h]), codes(ds))
                if tf.get("must_doubt") and not ds: n("field must-doubt not doubted"); say(f, "FIELD NOT DOUBTED", tag, show(gf[h]))
                continue
            c = [j for j in lf if gf[j].get("quantity") == tf["quantity"]]
            if tf.get("optional"):
                if c: lf.remove(c[0])
                continue
            n("field")
            if c:
                lf.remove(c[0]); ds = mdoubts(gf[c[0]], rec, filed, tf["quantity"])
                if tf.get("must_doubt") and ds: n("field right"); continue
                n("field wrong" + (", doubted" if ds else " SILENT")); say(f, "FIELD WRONG", tag, tf["quantity"], "expected", tf["value"], "got", show(gf[c[0]]), codes(ds))
            else: n("field missed"); say(f, "FIELD MISSED", tag, tf["quantity"], tf["value"])
        for j in lf:
            ds = L(gf[j].get("doubts")); n("field extra" + (", doubted" if ds else "")); say(f, "FIELD EXTRA", tag, show(gf[j]), codes(ds))
        # sieve
        gv = [D(g) for g in L(rec.get("sieve"))]
        for tv in t.get("sieve", []):
            n("sieve")
            if any(near(g.get("opening"), tv["opening"]) and near(g.get("value"), tv["value"]) and ("kind" not in tv or g.get("kind") == tv["kind"]) for g in gv): n("sieve right")
            else: say(f, "SIEVE MISSED", tag, tv, [(g.get("opening"), g.get("value"), g.get("kind")) for g in gv][:12])
        # record doubts
        for rd in truth.get("record_doubts", []):
            n("record doubts wanted")
            alld = L(rec.get("doubts")) + filed + [d for g in gm + gf for d in L(g.get("doubts"))]
            if any(names(d, rd) or D(d).get("code") == rd for d in alld): n("record doubts given")
            else: say(f, "RECORD DOUBT LACKS", tag, rd, codes(alld))
    for j, rec in enumerate(recs):
        if j in used: continue
        say(f, "EXTRA RECORD", json.dumps({k: v for k, v in D(rec.get("sample")).items() if v is not None}, ensure_ascii=False)[:200])
        n("extra records")
        for g in map(D, L(rec.get("measurements"))):
            ds = mdoubts(g, rec, filed, g.get("property"))
            if ds: n("invented, doubted"); say(f, "INVENTED+DOUBT", show(g), codes(ds))
            else: n("silent wrong"); n("of which invented"); say(f, "SILENT INVENTED", show(g))
    bad = sum(C.get(k, 0) - before.get(k, 0) for k in ("missed", "wrong with a doubt", "silent wrong", "doubted needlessly", "must-doubt not doubted"))
    perfile.append(bad == 0)
val = max(1, C.get("values", 0))
def row(k, base=None):
    b = base or val
    print("%-36s %6d   %6.2f %%" % (k, C.get(k, 0), 100.0 * C.get(k, 0) / max(1, b)))
print("-" * 60)
print("files %d, wholly clean %d, crashes %d, no json %d, wrong number of records %d" % (C.get("files", 0), sum(perfile), C.get("crashes", 0), C.get("no json", 0), C.get("files with wrong number of records", 0)))
print("samples not found %d, extra records %d" % (C.get("samples not found", 0), C.get("extra records", 0)))
print("%-36s %6d" % ("values in truth", C.get("values", 0)))
for k in ("right", "missed", "wrong with a doubt", "silent wrong", "of which invented", "invented, doubted", "duplicates (undoubted)", "doubted needlessly"): row(k)
for k in ("must-doubt not doubted", "must-doubt left out with a doubt"): row(k, C.get("must-doubt", 0))
print("%-36s %6d" % ("must-doubt in truth", C.get("must-doubt", 0)))
row("record doubts given", C.get("record doubts wanted", 0))
print("sample keys %d: missed %d, wrong %d, wrong but doubted %d" % (C.get("keys", 0), C.get("keys missed", 0), C.get("keys wrong", 0), C.get("keys wrong, doubted", 0)))
for k in sorted(k for k in C if k.startswith("keys ") and len(k.split()) == 2 and k.split()[1] not in ("missed", "wrong")):
    print("   %-16s of %4d: missed %d, wrong %d, doubted wrong %d" % (k[5:], C[k], C.get(k + " missed", 0), C.get(k + " wrong", 0), C.get(k + " wrong, doubted", 0)))
print("field %d: right %d, missed %d, wrong silent %d, wrong doubted %d, extra %d (+%d doubted), needless %d" % tuple(C.get(k, 0) for k in ("field", "field right", "field missed", "field wrong SILENT", "field wrong, doubted", "field extra", "field extra, doubted", "field doubted needlessly")))
print("sieve %d: right %d" % (C.get("sieve", 0), C.get("sieve right", 0)))
