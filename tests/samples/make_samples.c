/*
 * make_samples LIFE.json FOLDER: what a logic analyser, an oscilloscope, a meter and a bench's script would have recorded of an invented
 * life, each in a format that `import` reads. INVENTED: the life is played by the model behind `synth`, the line is made by the tests' own
 * encoder. The same life gives the same bytes.
 *
 *   _ps _ns  since the life's first record
 */
#include "capture/record.h"
#include "cli/synth/synth.h"
#include "tests/decode/bmc_line.h"

#include <cjson/cJSON.h>
#include <inttypes.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

enum { PACKETS_MAX = 200, ROWS_MAX = 10000, MARKS_MAX = 20, TEXT_BYTES = 400, PATH_BYTES = 1000 };

/* The line rests where a source that offers 3.0 A holds it; what is sent swings between about nothing and 1.125 V (USB PD, nominal). */
enum { REST_MV = 1680, HIGH_MV = 1125, LOW_MV = 30, RAMP_NS = 400, NOISE_MV = 8 };
/* The transmitter lets go of the line so long after its last change. */
#define RELEASE_PS 2e6

struct window { int64_t from_ns, to_ns; double rate_hz; };
/* The whole negotiation and the plug's answer; the offer to its acceptance; the offer and its GoodCRC. */
static const struct window bits_window = { 200000000, 750000000, 2.4e6 }, samples_window = { 294000000, 336000000, 2e6 },
                           volts_window = { 294900000, 297400000, 4e6 };

struct life {
    int64_t first_ns; /* since 1970 */
    struct wave wave;
    struct { double from_ps, to_ps; } sent[PACKETS_MAX];
    unsigned sent_count;
    struct { int64_t t_ns; int32_t uv, ua; } row[ROWS_MAX];
    unsigned row_count;
    struct { int64_t t_ns; unsigned action, subject; int32_t value; char text[TEXT_BYTES]; } mark[MARKS_MAX];
    unsigned mark_count;
    char about[TEXT_BYTES];
};

static void give_up(const char *what)
{
    fprintf(stderr, "make_samples: %s\n", what);
    exit(1);
}

/* Puts a packet or a reset on the line, at the rate that its measured length tells. */
static void send(struct life *l, const struct record *r, int64_t t_ns)
{
    bool               reset = r->kind == RECORD_RESET_SIGNAL;
    enum wave_set      set = reset ? (r->reset.which ? WAVE_CABLE_RESET : WAVE_HARD_RESET) : (enum wave_set)r->packet.set;
    struct wave_packet p = wave_packet_of(set, reset ? NULL : r->packet.bytes, reset ? 0 : r->packet.length);
    double             bits = reset ? 84 : 64 + 20 + 10 * (double)r->packet.length + 5;

    if (l->sent_count == PACKETS_MAX || r->duration_ns == 0)
        give_up("more packets than expected, or one of no measured length");
    p.rate_hz = bits / (double)r->duration_ns * 1e9;
    wave_wait(&l->wave, (double)t_ns * 1000 - l->wave.now_ps);
    l->sent[l->sent_count].from_ps = l->wave.now_ps;
    wave_send(&l->wave, &p);
    wave_wait(&l->wave, RELEASE_PS);
    l->sent[l->sent_count++].to_ps = l->wave.now_ps;
    if (!wave_high(&l->wave))
        wave_change(&l->wave);
}

static void take(struct life *l, const struct record *r)
{
    int64_t t_ns = r->t_ns - l->first_ns;

    if (r->kind == RECORD_PD_PACKET || r->kind == RECORD_RESET_SIGNAL)
        send(l, r, t_ns);
    for (unsigned k = 0; r->kind == RECORD_POWER && k < r->power.rows && l->row_count < ROWS_MAX; k++) {
        l->row[l->row_count].t_ns = t_ns + (int64_t)k * r->power.interval_ns;
        l->row[l->row_count].uv = record_cell(r, k, 0);
        l->row[l->row_count++].ua = record_cell(r, k, 1);
    }
    if (r->kind == RECORD_MARK && l->mark_count < MARKS_MAX) {
        l->mark[l->mark_count].t_ns = t_ns;
        l->mark[l->mark_count].action = r->mark.action;
        l->mark[l->mark_count].subject = r->mark.subject;
        l->mark[l->mark_count].value = r->mark.value;
        snprintf(l->mark[l->mark_count++].text, TEXT_BYTES, "%.*s", (int)r->mark.length, r->mark.text);
    }
}

static void about_take(struct life *l, const struct record *r)
{
    cJSON *about = cJSON_ParseWithLength(r->about.text, r->about.length), *kept = cJSON_CreateObject();

    cJSON_AddItemToObject(kept, "device", cJSON_DetachItemFromObject(about, "device"));
    cJSON_AddItemToObject(kept, "note", cJSON_DetachItemFromObject(about, "note"));
    cJSON_AddItemToObject(kept, "ports", cJSON_DetachItemFromObject(about, "ports"));
    if (!cJSON_PrintPreallocated(kept, l->about, TEXT_BYTES, false))
        give_up("ABOUT is longer than expected");
    cJSON_Delete(about);
    cJSON_Delete(kept);
}

static void play(struct life *l, const char *path)
{
    static char          text[20000];
    FILE                *file = fopen(path, "rb");
    size_t               length = file ? fread(text, 1, sizeof text - 1, file) : 0;
    struct synth_trouble trouble;
    struct synth_record  raw;
    struct record        r;
    cJSON               *scenario = cJSON_ParseWithLength(text, length);
    struct synth        *s = scenario ? synth_open(scenario, -1, &trouble) : NULL;
    uint64_t             frames = 0;

    if (!s)
        give_up("the life cannot be read");
    wave_begin(&l->wave, true);
    while (synth_next(s, &raw)) {
        record_read(raw.bytes, raw.length, false, raw.stamp_ns, ++frames, &r);
        if (frames == 1) {
            l->first_ns = r.t_ns;
            about_take(l, &r);
        }
        take(l, &r);
    }
    synth_close(s);
    cJSON_Delete(scenario);
    fclose(file);
}

static FILE *file_new(const char *folder, const char *name)
{
    char  path[PATH_BYTES];
    FILE *file;

    snprintf(path, sizeof path, "%s/%s", folder, name);
    file = fopen(path, "wb");
    if (!file)
        give_up("a file cannot be written");
    return file;
}

static void file_end(FILE *file)
{
    if (fclose(file) != 0)
        give_up("a file cannot be written");
}

/* 2026-01-05T08:00:00.250, with so many decimals. */
static void moment(const struct life *l, int64_t t_ns, unsigned decimals, char *out, size_t room)
{
    int64_t   ns = l->first_ns + t_ns, part = ns % 1000000000;
    time_t    seconds = (time_t)(ns / 1000000000);
    struct tm tm;
    char      text[40];

    for (unsigned k = decimals; k < 9; k++)
        part /= 10;
    strftime(text, sizeof text, "%Y-%m-%dT%H:%M:%S", gmtime_r(&seconds, &tm));
    if (decimals > 0)
        snprintf(out, room, "%s.%0*" PRId64, text, (int)decimals, part);
    else
        snprintf(out, room, "%s", text);
}

/* Steps of 10 ns. The cable's plug is fed on CC2 from 0.21 s on. */
static void vcd_write(const struct life *l, const char *folder)
{
    FILE   *f = file_new(folder, "cc-line.vcd");
    char    date[60];
    bool    high = l->wave.begins_high, fed = false;

    moment(l, 0, 0, date, sizeof date);
    fprintf(f, "$date %sZ $end\n$comment INVENTED: made for a demonstration, no device was recorded $end\n$timescale 10 ns $end\n", date);
    fprintf(f, "$scope module bench $end\n$var wire 1 ! cc1 $end\n$var wire 1 \" cc2 $end\n$upscope $end\n$enddefinitions $end\n");
    fprintf(f, "#0\n%d!\n0\"\n", high);
    for (size_t k = 0; k < l->wave.count; k++) {
        int64_t at = (int64_t)floor(l->wave.at_ps[k] / 10000 + 0.5);

        if (!fed && at > 21000000) {
            fprintf(f, "#21000000\n1\"\n");
            fed = true;
        }
        high = !high;
        fprintf(f, "#%" PRId64 "\n%d!\n", at, high);
    }
    fprintf(f, "#%" PRId64 "\n", (l->wave.count ? (int64_t)(l->wave.now_ps / 10000) : 0) + 50000000);
    file_end(f);
}

/* The level at moments that only go on. */
struct place { size_t change; unsigned sent; bool high; };

static int32_t rest_or_high(const struct life *l, struct place *p, double at_ps)
{
    while (p->sent < l->sent_count && l->sent[p->sent].to_ps <= at_ps)
        p->sent++;
    return p->sent < l->sent_count && l->sent[p->sent].from_ps <= at_ps ? HIGH_MV : REST_MV;
}

static bool level_at(const struct life *l, struct place *p, double at_ps)
{
    while (p->change < l->wave.count && l->wave.at_ps[p->change] <= at_ps) {
        p->change++;
        p->high = !p->high;
    }
    return p->high;
}

/* Straight from one level to the next within RAMP_NS, and a little noise. */
static int32_t millivolts_at(const struct life *l, struct place *p, double at_ps, uint32_t *noise)
{
    bool    high = level_at(l, p, at_ps);
    double  since_ns = p->change > 0 ? (at_ps - l->wave.at_ps[p->change - 1]) / 1000 : RAMP_NS;
    int32_t up = rest_or_high(l, p, at_ps), to = high ? up : LOW_MV, from = high ? LOW_MV : p->change == 0 || p->sent >= l->sent_count ||
                  l->wave.at_ps[p->change - 1] <= l->sent[p->sent].from_ps ? REST_MV : up;
    double  part = since_ns < RAMP_NS ? since_ns / RAMP_NS : 1;

    *noise = *noise * 1664525u + 1013904223u;
    return (int32_t)(from + (to - from) * part + 0.5) + (int32_t)(*noise >> 16) % (2 * NOISE_MV + 1) - NOISE_MV;
}

static size_t samples_of(const struct window *w)
{
    return (size_t)((double)(w->to_ns - w->from_ns) * 1e-9 * w->rate_hz);
}

static double sample_ps(const struct window *w, size_t k)
{
    return (double)w->from_ns * 1000 + (double)k * 1e12 / w->rate_hz;
}

static void bits_write(const struct life *l, const char *folder)
{
    FILE        *f = file_new(folder, "cc-line.bits");
    struct place p = { .high = l->wave.begins_high };

    for (size_t k = 0; k < samples_of(&bits_window); k += 8) {
        unsigned byte = 0;

        for (unsigned bit = 0; bit < 8; bit++)
            byte |= (unsigned)level_at(l, &p, sample_ps(&bits_window, k + bit)) << bit;
        fputc((int)byte, f);
    }
    file_end(f);
}

static void samples_write(const struct life *l, const char *folder)
{
    FILE        *f = file_new(folder, "cc-line.s16");
    struct place p = { .high = l->wave.begins_high };
    uint32_t     noise = 1;

    /* A step is 0.1 mV. */
    for (size_t k = 0; k < samples_of(&samples_window); k++) {
        int32_t step = 10 * millivolts_at(l, &p, sample_ps(&samples_window, k), &noise);

        fputc(step & 0xFF, f);
        fputc(step >> 8 & 0xFF, f);
    }
    file_end(f);
}

static void volts_write(const struct life *l, const char *folder)
{
    FILE        *f = file_new(folder, "cc-line.csv");
    struct place p = { .high = l->wave.begins_high };
    uint32_t     noise = 2;

    fprintf(f, "# INVENTED: made for a demonstration, no device was recorded\nTime (us),CC1 (V)\n");
    for (size_t k = 0; k < samples_of(&volts_window); k++) {
        int32_t mv = millivolts_at(l, &p, sample_ps(&volts_window, k), &noise);

        fprintf(f, "%.2f,%s%" PRId32 ".%03" PRId32 "\n", (double)k * 1e6 / volts_window.rate_hz, mv < 0 ? "-" : "", abs(mv) / 1000, abs(mv) % 1000);
    }
    file_end(f);
}

static void fixed(char *out, size_t room, int32_t micro, unsigned decimals)
{
    int32_t unit = decimals == 3 ? 1000 : 100, value = (micro < 0 ? micro - unit / 2 : micro + unit / 2) / unit, one = decimals == 3 ? 1000 : 10000;

    snprintf(out, room, "%s%" PRId32 ".%0*" PRId32, value < 0 ? "-" : "", abs(value) / one, (int)decimals, abs(value) % one);
}

static void meter_write(const struct life *l, const char *folder)
{
    FILE *f = file_new(folder, "meter.csv");
    char  time[60], volts[40], amps[40];

    fprintf(f, "# INVENTED: made for a demonstration, no device was recorded\nTime;VBUS (V);IBUS (A)\n");
    for (unsigned k = 0; k < l->row_count; k++) {
        moment(l, l->row[k].t_ns, 3, time, sizeof time);
        fixed(volts, sizeof volts, l->row[k].uv, 4);
        fixed(amps, sizeof amps, l->row[k].ua, 4);
        fprintf(f, "%sZ;%s;%s\n", time, volts, amps);
    }
    file_end(f);
}

static void marks_write(const struct life *l, const char *folder)
{
    static const char *const words[] = { "note", "plugged", "unplugged", "load", "input_on", "input_off", "button" };
    FILE *f = file_new(folder, "marks.txt");

    fprintf(f, "# INVENTED: made for a demonstration, no device was recorded\n%" PRId64 ".%09" PRId64 " * ABOUT %s\n", l->first_ns / 1000000000,
            l->first_ns % 1000000000, l->about);
    for (unsigned k = 0; k < l->mark_count; k++) {
        int64_t ns = l->first_ns + l->mark[k].t_ns;

        fprintf(f, "%" PRId64 ".%09" PRId64 " * MARK %s %u", ns / 1000000000, ns % 1000000000, words[l->mark[k].action], l->mark[k].subject);
        if (l->mark[k].action == RECORD_LOAD_SET)
            fprintf(f, " %" PRId32, l->mark[k].value);
        fprintf(f, "%s%s\n", l->mark[k].text[0] ? " " : "", l->mark[k].text);
    }
    file_end(f);
}

int main(int argc, char **argv)
{
    static struct life life;

    if (argc != 3)
        give_up("a scenario and a folder are expected");
    play(&life, argv[1]);
    vcd_write(&life, argv[2]);
    bits_write(&life, argv[2]);
    samples_write(&life, argv[2]);
    volts_write(&life, argv[2]);
    meter_write(&life, argv[2]);
    marks_write(&life, argv[2]);
    wave_free(&life.wave);
    return 0;
}
