// SPDX-License-Identifier: GPL-2.0
/*
 * A 1-Wire bus with DS18B20 sensors on it, at the level of the bytes on the wire: ROM commands, then one of the
 * sensor's functions on its scratchpad.
 */
#include <linux/debugfs.h>
#include <linux/string.h>
#include <linux/w1.h>

#include "rig.h"

#define SENSORS 4
#define PAD 9

enum { MATCH_ROM = 0x55, SKIP_ROM = 0xCC };
enum {
	CONVERT = 0x44,
	READ_PAD = 0xBE,
	WRITE_PAD = 0x4E,
	COPY_PAD = 0x48,
	RECALL = 0xB8,
	READ_SUPPLY = 0xB4
};

static struct sensor {
	u32 there, measured; /* measured: sixteenths of a degree, 16 bits two's complement */
	u32 browns_out;	     /* its supply breaks down in every conversion: it starts anew */
	u32 flips;	     /* exclusive-or on the checksum */
	u32 conversions;
	u8 pad[PAD];
} sensors[SENSORS];
static u32 shorted; /* the data line lies at ground: everything reads as 0, even the answer to a reset */

static enum { ROM, NUMBER, FUNCTION, PAD_OUT, PAD_IN, SUPPLY, IDLE } doing;
static unsigned int at;
static u8 number[8];
static bool addressed[SENSORS];

static u64 number_of(int i)
{
	u8 rom[8] = {0x28, i + 1};

	rom[7] = w1_calc_crc8(rom, 7);
	return le64_to_cpup((__le64 *)rom);
}

static void power_on(struct sensor *s)
{
	static const u8 fresh[PAD - 1] = {0x50, 0x05, 0x4B, 0x46, 0x7F, 0xFF, 0x0C, 0x10};

	memcpy(s->pad, fresh, sizeof(fresh));
}

static void convert(struct sensor *s)
{
	s->conversions++;
	if (s->browns_out) {
		power_on(s);
		return;
	}
	s->pad[0] = s->measured & 0xFF;
	s->pad[1] = s->measured >> 8 & 0xFF;
	s->pad[6] = 0x10 - (s->pad[0] & 0x0F); /* counts left to the next degree; 0Ch only before the first */
}

static u8 wire_reset(void *unused)
{
	int i;

	doing = ROM;
	if (shorted)
		return 0;
	for (i = 0; i < SENSORS; i++)
		if (sensors[i].there)
			return 0;
	return 1;
}

static void function(u8 command)
{
	int i;

	at = 0;
	doing = command == READ_PAD ? PAD_OUT : command == WRITE_PAD ? PAD_IN : command == READ_SUPPLY ? SUPPLY : IDLE;
	for (i = 0; i < SENSORS; i++)
		if (addressed[i] && command == CONVERT)
			convert(&sensors[i]);
}

static void wire_write(void *unused, u8 byte)
{
	int i;

	switch (doing) {
	case ROM:
		at = 0;
		doing = byte == MATCH_ROM ? NUMBER : byte == SKIP_ROM ? FUNCTION : IDLE;
		for (i = 0; i < SENSORS; i++)
			addressed[i] = byte == SKIP_ROM && sensors[i].there;
		break;
	case NUMBER:
		number[at++] = byte;
		if (at < sizeof(number))
			break;
		doing = FUNCTION;
		for (i = 0; i < SENSORS; i++)
			addressed[i] = sensors[i].there && number_of(i) == le64_to_cpup((__le64 *)number);
		break;
	case FUNCTION:
		function(byte);
		break;
	case PAD_IN: /* the two limits and the configuration */
		for (i = 0; i < SENSORS; i++)
			if (addressed[i] && at < 3)
				sensors[i].pad[2 + at] = at == 2 ? (byte & 0x60) | 0x1F : byte;
		at++;
		break;
	default:
		break;
	}
}

static u8 wire_read(void *unused)
{
	u8 together = 0xFF; /* whoever pulls the line down is heard */
	int i;

	if (shorted)
		return 0;
	if (doing != PAD_OUT || at >= PAD)
		return together;
	for (i = 0; i < SENSORS; i++) {
		struct sensor *s = &sensors[i];

		if (!addressed[i] || !s->there)
			continue;
		together &= at < PAD - 1 ? s->pad[at] : w1_calc_crc8(s->pad, PAD - 1) ^ (s->flips & 0xFF);
	}
	at++;
	return together;
}

static u8 wire_touch(void *unused, u8 bit)
{
	return shorted ? 0 : 1; /* to READ_SUPPLY that means: has a supply of its own */
}

static void wire_search(void *unused, struct w1_master *master, u8 type, w1_slave_found_callback found)
{
	int i;

	for (i = 0; i < SENSORS; i++)
		if (sensors[i].there && !shorted)
			found(master, number_of(i));
}

static struct w1_bus_master wire = {
	.reset_bus = wire_reset,
	.write_byte = wire_write,
	.read_byte = wire_read,
	.touch_bit = wire_touch,
	.search = wire_search,
};

int rig_w1_add(struct dentry *root)
{
	int i;

	debugfs_create_u32("w1_shorted", 0600, root, &shorted);
	for (i = 0; i < SENSORS; i++) {
		struct sensor *s = &sensors[i];
		char name[] = "sensor1";
		struct dentry *folder;

		name[6] += i;
		folder = debugfs_create_dir(name, root);
		s->there = 1;
		s->measured = 20 * 16;
		power_on(s);
		debugfs_create_u32("there", 0600, folder, &s->there);
		debugfs_create_x32("measured", 0600, folder, &s->measured);
		debugfs_create_u32("browns_out", 0600, folder, &s->browns_out);
		debugfs_create_x32("flips", 0600, folder, &s->flips);
		debugfs_create_u32("conversions", 0600, folder, &s->conversions);
	}
	return w1_add_master_device(&wire);
}

void rig_w1_remove(void)
{
	w1_remove_master_device(&wire);
}
