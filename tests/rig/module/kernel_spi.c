// SPDX-License-Identifier: GPL-2.0
/*
 * An SPI bus of the kernel's own on the rig's lines, so that the kernel's drivers read the very chips that the
 * program reads. It holds the lines while it is there.
 */
#include <linux/err.h>
#include <linux/gpio/consumer.h>
#include <linux/gpio/machine.h>
#include <linux/module.h>
#include <linux/mutex.h>
#include <linux/spi/spi.h>

#include "rig.h"

#define BUS_NUMBER 7

static struct gpiod_lookup_table table = {
	.dev_id = RIG_LABEL,
	.table = {GPIO_LOOKUP(RIG_LABEL, LINE_SCK, "sck", GPIO_ACTIVE_HIGH),
		  GPIO_LOOKUP(RIG_LABEL, LINE_SO, "so", GPIO_ACTIVE_HIGH),
		  GPIO_LOOKUP(RIG_LABEL, LINE_SI, "si", GPIO_ACTIVE_HIGH),
		  GPIO_LOOKUP_IDX(RIG_LABEL, LINE_CS0 + 0, "select", 0, GPIO_ACTIVE_HIGH),
		  GPIO_LOOKUP_IDX(RIG_LABEL, LINE_CS0 + 1, "select", 1, GPIO_ACTIVE_HIGH),
		  GPIO_LOOKUP_IDX(RIG_LABEL, LINE_CS0 + 2, "select", 2, GPIO_ACTIVE_HIGH),
		  GPIO_LOOKUP_IDX(RIG_LABEL, LINE_CS0 + 3, "select", 3, GPIO_ACTIVE_HIGH),
		  {}},
};

static DEFINE_MUTEX(busy);
static struct platform_device *parent;
static struct spi_controller *bus;
static struct gpio_desc *sck, *so, *si, *selects[RIG_SOCKETS];

static void give_back(void)
{
	int i;
	struct gpio_desc **each[] = {&sck, &so, &si};

	for (i = 0; i < ARRAY_SIZE(each); i++) {
		if (*each[i])
			gpiod_put(*each[i]);
		*each[i] = NULL;
	}
	for (i = 0; i < RIG_SOCKETS; i++) {
		if (selects[i])
			gpiod_put(selects[i]);
		selects[i] = NULL;
	}
}

static int take(struct gpio_desc **into, const char *name, int index, enum gpiod_flags flags)
{
	struct gpio_desc *line = gpiod_get_index(&parent->dev, name, index, flags);

	if (IS_ERR(line))
		return PTR_ERR(line);
	gpiod_set_consumer_name(line, "kernel-spi");
	*into = line;
	return 0;
}

static int take_all(void)
{
	int i, error = 0;

	for (i = 0; i < RIG_SOCKETS && !error; i++)
		error = take(&selects[i], "select", i, GPIOD_OUT_HIGH);
	if (!error)
		error = take(&sck, "sck", 0, GPIOD_OUT_LOW);
	if (!error)
		error = take(&so, "so", 0, GPIOD_IN);
	if (!error)
		error = take(&si, "si", 0, GPIOD_OUT_LOW);
	if (error)
		give_back();
	return error;
}

static void select_chip(struct spi_device *device, bool high)
{
	gpiod_set_value(device->controller_data, high);
}

/* Mode 0 looks before the rising edge, mode 1 after the falling one. */
static int transfer(struct spi_controller *unused, struct spi_device *device, struct spi_transfer *what)
{
	const u8 *out = what->tx_buf;
	u8 *in = what->rx_buf;
	bool late = device->mode & SPI_CPHA;
	unsigned int i;
	int bit;

	for (i = 0; i < what->len; i++) {
		u8 got = 0;

		for (bit = 7; bit >= 0; bit--) {
			int sent = out ? out[i] >> bit & 1 : 0;

			if (!late) {
				gpiod_set_value(si, sent);
				got = got << 1 | (gpiod_get_value(so) > 0);
				gpiod_set_value(sck, 1);
				gpiod_set_value(sck, 0);
			} else {
				gpiod_set_value(sck, 1);
				gpiod_set_value(si, sent);
				gpiod_set_value(sck, 0);
				got = got << 1 | (gpiod_get_value(so) > 0);
			}
		}
		if (in)
			in[i] = got;
	}
	return 0;
}

static void stop_bus(void)
{
	if (!bus)
		return;
	spi_unregister_controller(bus);
	bus = NULL;
	give_back();
}

static int start_bus(void)
{
	int error, i;

	if (!rig_lines_present())
		return -ENODEV;
	error = take_all();
	if (error)
		return error;
#if LINUX_VERSION_CODE >= KERNEL_VERSION(6, 7, 0)
	bus = spi_alloc_host(&parent->dev, 0);
#else
	bus = spi_alloc_master(&parent->dev, 0);
#endif
	if (!bus) {
		give_back();
		return -ENOMEM;
	}
	bus->bus_num = BUS_NUMBER;
	bus->num_chipselect = RIG_SOCKETS;
	bus->mode_bits = SPI_CPHA;
	bus->bits_per_word_mask = SPI_BPW_MASK(8);
	bus->set_cs = select_chip;
	bus->transfer_one = transfer;
	error = spi_register_controller(bus);
	if (error) {
		spi_controller_put(bus);
		bus = NULL;
		give_back();
		return error;
	}
	for (i = 0; i < RIG_SOCKETS; i++) {
		struct spi_board_info info = {
			.max_speed_hz = 1000000,
			.chip_select = i,
			.controller_data = selects[i],
			.mode = rig_spi_late(i) ? SPI_MODE_1 : SPI_MODE_0,
		};

		if (!rig_spi_name(i))
			continue;
		strscpy(info.modalias, rig_spi_name(i), sizeof(info.modalias));
		if (!spi_new_device(bus, &info)) {
			stop_bus();
			return -EIO;
		}
	}
	return 0;
}

static int bus_get(void *data, u64 *value)
{
	*value = bus != NULL;
	return 0;
}

static int bus_set(void *data, u64 value)
{
	int error = 0;

	mutex_lock(&busy);
	if (value && !bus)
		error = start_bus();
	else if (!value)
		stop_bus();
	mutex_unlock(&busy);
	return error;
}
DEFINE_DEBUGFS_ATTRIBUTE(bus_file, bus_get, bus_set, "%llu\n");

int rig_spi_add(struct platform_device *owner, struct dentry *root)
{
	parent = owner;
	gpiod_add_lookup_table(&table);
	debugfs_create_file("kernel_spi", 0600, root, NULL, &bus_file);
	return 0;
}

void rig_spi_remove(void)
{
	stop_bus();
	gpiod_remove_lookup_table(&table);
}
