// SPDX-License-Identifier: GPL-2.0
/*
 * Starts a Raspberry Pi from where the argument of reboot(2) says, once: "PARTITION" or "PARTITION tryboot".
 *
 * Raspberry Pi's own kernel does this (github.com/raspberrypi/linux, drivers/watchdog/bcm2835_wdt.c and
 * drivers/firmware/raspberrypi.c, whose values these are); the kernel of the Linux project, which Debian takes, does
 * not. Both parts are documented: raspberrypi/documentation, config_txt/autoboot.adoc, "boot_partition" and "tryboot".
 *
 * - The partition stands in bits 0, 2, 4, 6, 8 and 10 of the register PM_RSTS, which keeps its value while the chip is
 *   reset and loses it with the power. Zero is the one that autoboot.txt names.
 * - "tryboot" is a flag that the firmware keeps for itself until the next start.
 */
#include <linux/io.h>
#include <linux/kernel.h>
#include <linux/module.h>
#include <linux/of.h>
#include <linux/of_address.h>
#include <linux/reboot.h>
#include <linux/string.h>
#include <soc/bcm2835/raspberrypi-firmware.h>

#define PM_RSTS 0x20
#define PM_PASSWORD 0x5a000000
#define PM_RSTS_PARTITION 0x555
#define SET_REBOOT_FLAGS 0x00038064
#define FLAG_TRYBOOT 1

static void __iomem *power;

static void start_from(u32 partition)
{
	u32 value = readl(power + PM_RSTS) & ~(0xff000000 | PM_RSTS_PARTITION);
	int bit;

	for (bit = 0; bit < 6; bit++)
		value |= (partition >> bit & 1) << (2 * bit);
	writel(PM_PASSWORD | value, power + PM_RSTS);
}

static void try_other(void)
{
	struct device_node *node = of_find_compatible_node(NULL, NULL, "raspberrypi,bcm2835-firmware");
	struct rpi_firmware *firmware = node ? rpi_firmware_get(node) : NULL;
	u32 flags = FLAG_TRYBOOT;
	int error = -ENODEV;

	of_node_put(node);
	if (firmware) {
		error = rpi_firmware_property(firmware, SET_REBOOT_FLAGS, &flags, sizeof(flags));
		rpi_firmware_put(firmware);
	}
	if (error)
		pr_warn("keelnote: the firmware does not take the flag for a trial (%d)\n", error);
}

static int rebooting(struct notifier_block *block, unsigned long action, void *argument)
{
	unsigned int partition;

	if (action != SYS_RESTART || !argument || sscanf(argument, "%u", &partition) != 1 || partition > 62)
		return NOTIFY_DONE;
	pr_warn("keelnote: the next start is told \"%s\"\n", (char *)argument);
	start_from(partition);
	if (strstr(argument, " tryboot"))
		try_other();
	return NOTIFY_DONE;
}

static struct notifier_block notifier = { .notifier_call = rebooting };

static int __init begin(void)
{
	struct device_node *node = of_find_compatible_node(NULL, NULL, "brcm,bcm2835-pm-wdt");
	int error;

	power = node ? of_iomap(node, 0) : NULL;
	of_node_put(node);
	if (!power)
		return -ENODEV;
	/* Told for this start alone: from now on a crash, too, leads to where autoboot.txt says. */
	start_from(0);
	error = register_reboot_notifier(&notifier);
	if (error)
		iounmap(power);
	return error;
}

static void __exit end(void)
{
	unregister_reboot_notifier(&notifier);
	iounmap(power);
}

module_init(begin);
module_exit(end);
MODULE_DESCRIPTION("Starts a Raspberry Pi from where the argument of reboot(2) says");
MODULE_LICENSE("GPL");
