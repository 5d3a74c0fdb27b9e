/* SPDX-License-Identifier: GPL-2.0 */
/*
 * A test bench inside a real kernel: thermocouple chips that answer to every edge of their lines, switches, and
 * a 1-Wire bus. A test tool of its own; no part of the program is linked with it. Everything is told and asked
 * under /sys/kernel/debug/ingle_rig.
 */
#ifndef INGLE_RIG_H
#define INGLE_RIG_H

#include <linux/debugfs.h>
#include <linux/ktime.h>
#include <linux/platform_device.h>
#include <linux/types.h>
#include <linux/version.h>

#define RIG_LABEL "ingle-rig"
#define RIG_SOCKETS 4

enum rig_line {
	LINE_SCK,
	LINE_SO,
	LINE_SI,
	LINE_CS0,
	LINE_LID = LINE_CS0 + RIG_SOCKETS,
	LINE_BUTTON,
	LINE_BUZZER,
	RIG_LINES
};

/* chips.c: what sits in the sockets. The caller of rig_wire and rig_data_level holds the lock of the lines. */
struct rig_levels {
	bool sck, si, select[RIG_SOCKETS]; /* as the wires are; select is active low */
};
void rig_wire(const struct rig_levels *now); /* after every change of a line */
bool rig_data_level(void);		     /* of SO, as all chips together drive it */
const char *rig_spi_name(int socket);	     /* the kernel driver's id for what sits there, or NULL */
bool rig_spi_late(int socket);		     /* that chip wants SPI mode 1 */
void rig_chips_files(struct dentry *root);

/* lines.c: the GPIO chip */
int rig_lines_add(struct platform_device *owner, struct dentry *root);
void rig_lines_remove(void);
bool rig_lines_present(void);

/* kernel_spi.c: a bus of the kernel's own on the same lines */
int rig_spi_add(struct platform_device *owner, struct dentry *root);
void rig_spi_remove(void);

/* one_wire.c */
int rig_w1_add(struct dentry *root);
void rig_w1_remove(void);

#endif
