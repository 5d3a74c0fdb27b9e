// SPDX-License-Identifier: GPL-2.0
/*
 * Four sockets on one clock, one data line back (SO) and one forth (SI), with a select each. As the data sheets
 * say: MAX31855 (32 bits) and MAX6675 (16 bits) put the first bit on the line as the select falls and the next
 * one after each falling edge of the clock; a conversion runs only while the select is high. MAX31856: SPI mode
 * 1 or 3, an address and then registers; it shifts out with the leading edge and takes in at the trailing one.
 */
#include <linux/debugfs.h>
#include <linux/seq_file.h>
#include <linux/spinlock.h>
#include <linux/string.h>

#include "rig.h"

enum { NOTHING, MAX31855, MAX6675, MAX31856 };

#define REGISTERS 16
#define WRITABLE 12 /* the first so many */
#define MEASURED 0x0A
#define STATUS 0x0F
#define CR0_BY_ITSELF 0x80
#define CR0_ONE_SHOT 0x40
#define CR0_CLEAR 0x02

static struct socket {
	u32 kind;
	u32 frame;    /* what a MAX31855 or MAX6675 measures: its whole word */
	u64 measured; /* what a MAX31856 measures: registers 0Ah to 0Fh */
	u32 conv_us;  /* a conversion takes so long */
	u32 as_spidev;

	u32 latched; /* the word of the last finished conversion */
	u64 ready_ns;
	unsigned int clocks;
	u8 registers[REGISTERS];
	bool rest; /* level of the clock as the select fell */
	u8 address, shift;
	bool driving, out;

	u32 frames, short_frames, long_frames;
} sockets[RIG_SOCKETS];

static struct rig_levels was = {.select = {true, true, true, true}};
static bool floating; /* level of SO while no chip drives it */
static u32 contention, idle_clocks, clock_errors;

static u64 now_ns(void)
{
	return ktime_get_ns();
}

static void power_on(struct socket *s)
{
	static const u8 fresh[REGISTERS] = {0x00, 0x03, 0xFF, 0x7F, 0xC0, 0x7F, 0xFF, 0x80};

	memcpy(s->registers, fresh, sizeof(fresh));
	s->latched = 0;
	s->ready_ns = 0;
}

static void convert(struct socket *s)
{
	int i;

	for (i = 0; i < 6; i++)
		s->registers[MEASURED + i] = s->measured >> (8 * (5 - i));
}

static void store(struct socket *s, unsigned int at, u8 value)
{
	bool started;

	if (at >= WRITABLE)
		return;
	if (at != 0) {
		s->registers[at] = value;
		return;
	}
	started = (value & CR0_ONE_SHOT) || ((value & CR0_BY_ITSELF) && !(s->registers[0] & CR0_BY_ITSELF));
	if (value & CR0_CLEAR)
		s->registers[STATUS] = 0;
	s->registers[0] = value & ~CR0_CLEAR; /* the one-shot bit stands until that conversion is done */
	if (started)
		s->ready_ns = now_ns() + 1000ULL * s->conv_us;
}

static unsigned int word_length(const struct socket *s)
{
	return s->kind == MAX31855 ? 32 : s->kind == MAX6675 ? 16 : 0;
}

static void chosen(struct socket *s, bool clock)
{
	s->clocks = 0;
	s->driving = false;
	s->rest = clock;
	if (s->kind == MAX31856) {
		if (s->ready_ns && now_ns() >= s->ready_ns) {
			convert(s);
			s->registers[0] &= ~CR0_ONE_SHOT;
			if (!(s->registers[0] & CR0_BY_ITSELF))
				s->ready_ns = 0;
		}
		return;
	}
	if (clock)
		clock_errors++;
	if (now_ns() >= s->ready_ns)
		s->latched = s->frame;
}

static void released(struct socket *s)
{
	unsigned int wanted = word_length(s);

	if (s->kind == MAX31856)
		wanted = s->clocks < 16 ? 16 : s->clocks & ~7U;
	else
		s->ready_ns = now_ns() + 1000ULL * s->conv_us;
	if (s->clocks == wanted)
		s->frames++;
	else if (s->clocks < wanted)
		s->short_frames++;
	else
		s->long_frames++;
	s->driving = false;
}

static void register_edge(struct socket *s, bool clock, bool in)
{
	unsigned int byte = s->clocks / 8;

	if (clock != s->rest) { /* leading: shift out */
		s->driving = byte > 0 && !(s->address & 0x80);
		if (s->driving)
			s->out = s->registers[(s->address + byte - 1) % REGISTERS] >> (7 - s->clocks % 8) & 1;
		return;
	}
	s->shift = s->shift << 1 | in;
	if (++s->clocks % 8)
		return;
	if (s->clocks == 8)
		s->address = s->shift;
	else if (s->address & 0x80)
		store(s, (s->address & 0x7F) + byte - 1, s->shift);
}

void rig_wire(const struct rig_levels *now)
{
	bool edge = now->sck != was.sck, anyone = false;
	int i;

	for (i = 0; i < RIG_SOCKETS; i++) {
		struct socket *s = &sockets[i];

		if (s->kind == NOTHING)
			continue;
		if (was.select[i] && !now->select[i]) {
			chosen(s, was.sck);
		} else if (!was.select[i] && now->select[i]) {
			released(s);
		}
		if (now->select[i])
			continue;
		anyone = true;
		if (!edge)
			continue;
		if (s->kind == MAX31856)
			register_edge(s, now->sck, now->si);
		else if (!now->sck)
			s->clocks++;
	}
	if (edge && now->sck && !anyone)
		idle_clocks++;
	was = *now;
}

bool rig_data_level(void)
{
	int i, talking = 0;
	bool level = true;

	for (i = 0; i < RIG_SOCKETS; i++) {
		struct socket *s = &sockets[i];
		unsigned int length = word_length(s);

		if (s->kind == NOTHING || was.select[i])
			continue;
		if (s->kind == MAX31856 && !s->driving)
			continue;
		talking++;
		if (s->kind == MAX31856)
			level &= s->out;
		else
			level &= s->clocks < length && (s->latched >> (length - 1 - s->clocks) & 1);
	}
	if (talking > 1)
		contention++;
	return talking ? level : floating;
}

const char *rig_spi_name(int i)
{
	static const char *const ids[] = {NULL, "max31855k", "max6675", "max31856"};

	if (sockets[i].as_spidev)
		return "bk4"; /* an id that the kernel's spidev answers to */
	return ids[sockets[i].kind];
}

bool rig_spi_late(int i)
{
	return sockets[i].kind == MAX31856;
}

static int kind_get(void *data, u64 *value)
{
	*value = ((struct socket *)data)->kind;
	return 0;
}

/* Written again, it is the same chip after its power was gone. */
static int kind_set(void *data, u64 value)
{
	struct socket *s = data;

	if (value > MAX31856)
		return -EINVAL;
	s->kind = value;
	power_on(s);
	return 0;
}
DEFINE_DEBUGFS_ATTRIBUTE(kind_file, kind_get, kind_set, "%llu\n");

static int registers_show(struct seq_file *out, void *unused)
{
	seq_printf(out, "%*phN\n", REGISTERS, ((struct socket *)out->private)->registers);
	return 0;
}
DEFINE_SHOW_ATTRIBUTE(registers);

void rig_chips_files(struct dentry *root)
{
	int i;

	for (i = 0; i < RIG_SOCKETS; i++) {
		struct socket *s = &sockets[i];
		char name[] = "socket0";
		struct dentry *folder;

		name[6] += i;
		folder = debugfs_create_dir(name, root);
		power_on(s);
		debugfs_create_file("kind", 0600, folder, s, &kind_file);
		debugfs_create_x32("frame", 0600, folder, &s->frame);
		debugfs_create_x64("measured", 0600, folder, &s->measured);
		debugfs_create_u32("conv_us", 0600, folder, &s->conv_us);
		debugfs_create_u32("as_spidev", 0600, folder, &s->as_spidev);
		debugfs_create_file("registers", 0400, folder, s, &registers_fops);
		debugfs_create_u32("frames", 0600, folder, &s->frames);
		debugfs_create_u32("short_frames", 0600, folder, &s->short_frames);
		debugfs_create_u32("long_frames", 0600, folder, &s->long_frames);
	}
	debugfs_create_bool("floating", 0600, root, &floating);
	debugfs_create_u32("contention", 0600, root, &contention);
	debugfs_create_u32("idle_clocks", 0600, root, &idle_clocks);
	debugfs_create_u32("clock_errors", 0600, root, &clock_errors);
}
